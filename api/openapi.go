package api

import (
	"context"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"stowkeeper/inventory/amount"
)

// SpecVersion is the version of the API as the OpenAPI document tells it. Raise it whenever the document changes: a
// test compares both with the copy in testdata.
const SpecVersion = "2.16.0"

// config describes the API as a whole. Answers carry nothing that was not
// asked for: no schema links, no documentation page that loads foreign scripts.
func config(opt Options) huma.Config {
	about := "Stock, readiness, checks and restocks of first-aid bags. Days are YYYY-MM-DD, instants RFC 3339 in UTC. " +
		"Errors are problem documents (RFC 9457) with one entry for each wrong field. " +
		"A stock tool only: local protocol, the maker's instructions and licensed clinicians decide."
	if opt.Version != "" {
		about += " Program version " + opt.Version + "."
	}
	schemas := huma.NewMapRegistry("#/components/schemas/", huma.DefaultSchemaNamer)
	schemas.RegisterTypeAlias(reflect.TypeFor[amount.Amount](), reflect.TypeFor[float64]()) // a number, exactly as written
	return huma.Config{
		OpenAPI: &huma.OpenAPI{
			OpenAPI: "3.1.0",
			Info:    &huma.Info{Title: "Stowkeeper", Version: SpecVersion, Description: about},
			Servers: []*huma.Server{{URL: Base}},
			Components: &huma.Components{
				Schemas: schemas,
				SecuritySchemes: map[string]*huma.SecurityScheme{
					"token": {Type: "http", Scheme: "bearer", Description: "A program's token"},
					"session": {Type: "apiKey", In: "cookie", Name: opt.Cookie,
						Description: "The session of a person who signed in on the pages"},
				},
			},
			Security: []map[string][]string{{"token": {}}, {"session": {}}},
		},
		Formats:                      map[string]huma.Format{"application/json": jsonFormat, "json": jsonFormat},
		DefaultFormat:                "application/json",
		RejectUnknownQueryParameters: true,
		Transformers:                 []huma.Transformer{identify},
	}
}

// finish mends the schemas that huma cannot know.
func finish(spec *huma.OpenAPI) {
	r := spec.Components.Schemas
	for name, s := range r.Map() {
		if t := r.TypeFromRef("#/components/schemas/" + name); t != nil && t.Kind() == reflect.Struct {
			addShadowed(r, s, t)
		}
	}
}

// addShadowed adds the members of embedded structs whose Go name is shadowed while their JSON name is not, such as
// the id of a lot's batch: they are part of the JSON, and huma goes by the Go name.
func addShadowed(r huma.Registry, s *huma.Schema, t reflect.Type) {
	for f := range t.Fields() {
		if !f.Anonymous || f.Type.Kind() != reflect.Struct {
			continue
		}
		addShadowed(r, s, f.Type)
		for inner := range f.Type.Fields() {
			name, options, _ := strings.Cut(inner.Tag.Get("json"), ",")
			if inner.Anonymous || name == "" || name == "-" || s.Properties[name] != nil {
				continue
			}
			s.Properties[name] = huma.SchemaFromField(r, inner, "")
			if !strings.Contains(options, "omit") {
				s.Required = append(s.Required, name)
			}
		}
	}
}

func (s *server) getOpenAPI(context.Context, *struct{}) (*file, error) {
	b, err := s.document()
	return &file{Body: whole(b)}, err
}
