package api_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
)

// What is sent in every place where something can be sent. An error that
// repeats it could repeat a PIN.
const (
	marker       = "Zq7markerQz"
	markerNumber = 918273645546
)

func unmarked(t *testing.T, a answer, what string) {
	t.Helper()
	if a.status < 400 {
		return // what was taken is answered as it was stored
	}
	for _, sign := range []string{marker, strings.ToUpper(marker), "918273645546", "9.18273645546e+11"} {
		assert.NotContains(t, string(a.body), sign, what)
		for name, values := range a.header {
			assert.NotContains(t, strings.Join(values, " "), sign, "%s: %s", what, name)
		}
	}
}

// TestErrorsNeverEcho puts a marker in every member of every body, in every
// parameter and in every header, one at a time, and looks for it in the errors.
func TestErrorsNeverEcho(t *testing.T) {
	s := newPacked(t)
	doc := loadContract(t, s.served).doc
	refused := 0
	for _, rt := range api.Routes() {
		what := rt.Method + " " + rt.Path
		op := doc.Paths.Value(rt.Path).GetOperation(rt.Method)
		try := func(c *call) {
			a := c.do()
			unmarked(t, a, what)
			if a.status >= 400 {
				refused++
			}
		}
		fresh := func() *call {
			return s.as(administrator, rt.Method, concrete(rt.Path)).set("If-Match", `"99"`).key("k-" + marker)
		}
		try(s.as(administrator, rt.Method, parameter.ReplaceAllString(rt.Path, marker)))
		for _, p := range op.Parameters {
			if p.Value.In == "query" {
				c := fresh()
				c.path += "?" + url.Values{p.Value.Name: {marker}}.Encode()
				try(c)
			}
		}
		for _, header := range []string{"If-Match", "Idempotency-Key", "Authorization", "Cookie", "Accept", "Content-Type"} {
			try(fresh().json(`{}`).set(header, marker+" "+marker))
		}
		if rt.Method == http.MethodGet {
			continue
		}
		schema := op.RequestBody.Value.Content["application/json"].Schema
		for _, body := range marked(schema) {
			b, err := json.Marshal(body)
			require.NoError(t, err)
			try(fresh().json(string(b)))
		}
		for _, text := range []string{`"` + marker + `"`, marker, `{"x":"` + marker, `{"x":"` + marker + `"}`,
			`{"x":null,"y":"` + marker + `"}`, `{"` + marker + "\xff" + `":1}`} {
			try(fresh().json(text))
		}
	}
	assert.Greater(t, refused, 500, "the walk must have met errors")
}

// marked returns bodies of a schema, each with the marker in one place: as the
// text it may be, as the wrong type that it is not, and as an unknown member's
// value.
func marked(ref *openapi3.SchemaRef) []any {
	schema := ref.Value
	switch {
	case schema.Type.Is("object"):
		var out []any
		for name, member := range schema.Properties {
			for _, v := range marked(member) {
				body := sample(ref).(map[string]any)
				body[name] = v
				out = append(out, body)
			}
		}
		body := sample(ref).(map[string]any)
		body["unknown"] = marker
		return append(out, body)
	case schema.Type.Is("array"):
		out := []any{marker}
		for _, v := range marked(schema.Items) {
			out = append(out, []any{v})
		}
		return out
	}
	return []any{marker, markerNumber, -markerNumber, []any{marker}, map[string]any{"x": marker}}
}

// sample is a body of a schema that passes for its shape.
func sample(ref *openapi3.SchemaRef) any {
	schema := ref.Value
	switch {
	case schema.Type.Is("object"):
		body := map[string]any{}
		for name, member := range schema.Properties {
			body[name] = sample(member)
		}
		return body
	case schema.Type.Is("array"):
		return []any{sample(schema.Items)}
	case schema.Type.Is("boolean"):
		return false
	case schema.Type.Is("integer"):
		return 1
	case len(schema.Enum) > 0:
		return schema.Enum[0]
	case schema.Format == "date":
		return "2027-06-14"
	case schema.Format == "date-time":
		return "2027-06-14T06:00:00Z"
	}
	return "N1"
}
