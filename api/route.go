package api

import (
	"context"
	"net/http"
	"reflect"
	"runtime"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"stowkeeper/inventory"
)

// Route is one way into the API.
type Route struct {
	Method string
	Path   string           // below Base, with {parameters}
	Action inventory.Action // what the caller's role must be allowed to do

	summary string
	bind    binding
}

// Routes returns the table of all routes.
func Routes() []Route { return routes() }

// binding registers a route's handler. The table cannot leave it out, and it
// gets the operation with the action already in its metadata.
type binding func(s *server, op huma.Operation)

const actionKey = "action"

// operation describes the route to huma: the action that admit looks for, and in words who may use it.
func (rt Route) operation() huma.Operation {
	return huma.Operation{
		Method:      rt.Method,
		Path:        rt.Path,
		Summary:     rt.summary,
		Description: "Allowed to: " + strings.Join(rolesFor(rt.Action), ", ") + ".",
		Tags:        []string{strings.Split(strings.TrimPrefix(rt.Path, "/"), "/")[0]},
		Metadata:    map[string]any{actionKey: rt.Action},
		Responses:   map[string]*huma.Response{},
	}
}

// named names an operation as its handler is called, such as recordUse, so that
// a client made from the document has the same names as this code.
func named(op huma.Operation, handler any) huma.Operation {
	name := runtime.FuncForPC(reflect.ValueOf(handler).Pointer()).Name()
	op.OperationID = name[strings.LastIndex(name, ".")+1:]
	return op
}

func rolesFor(a inventory.Action) []string {
	var out []string
	for _, r := range inventory.Roles {
		if inventory.May(r, a) {
			out = append(out, string(r))
		}
	}
	slices.Sort(out)
	return out
}

// reads binds a handler that changes nothing.
func reads[I, O any](h func(*server, context.Context, *I) (*O, error)) binding {
	return func(s *server, op huma.Operation) { handle(s, named(op, h), h) }
}

// sets binds a handler that puts one setting in the place of another: sending it
// again changes nothing further, and nobody else's change is lost by it.
func sets[I, O any](h func(*server, context.Context, *I) (*O, error)) binding { return reads(h) }

// changes binds a handler that makes a new version of something; it must be
// told by If-Match which version it replaces.
func changes[I, O any](h func(*server, context.Context, *I) (*O, error)) binding {
	return func(s *server, op huma.Operation) {
		op.Parameters = append(op.Parameters, &huma.Param{Name: "If-Match", In: "header", Required: true,
			Description: "The ETag of the version that is replaced", Schema: &huma.Schema{Type: "string"}})
		handle(s, named(op, h), h)
	}
}

// sends binds a handler that answers with a file of a content type.
func sends[I any](contentType string, h func(*server, context.Context, *I) (*file, error)) binding {
	return func(s *server, op huma.Operation) {
		schema := &huma.Schema{Type: "string"}
		if strings.HasSuffix(contentType, "json") {
			schema = &huma.Schema{Type: "object"}
		}
		op.Responses["200"] = &huma.Response{Content: map[string]*huma.MediaType{contentType: {Schema: schema}}}
		handle(s, named(op, h), func(s *server, ctx context.Context, in *I) (*file, error) {
			out, err := h(s, ctx, in)
			if out != nil {
				out.ContentType = withCharset(contentType)
			}
			return out, err
		})
	}
}

// withCharset names the character encoding of texts and of XML (OWASP ASVS 5.0.0, 4.1.1).
func withCharset(contentType string) string {
	if strings.HasPrefix(contentType, "text/") || strings.HasSuffix(contentType, "+xml") {
		return contentType + "; charset=utf-8"
	}
	return contentType
}

// file is an answer that is not JSON.
type file struct {
	ContentType string `header:"Content-Type" hidden:"true"`
	Disposition string `header:"Content-Disposition" hidden:"true"`
	Body        func(huma.Context)
}

// whole is the body of a file that is in memory.
func whole(b []byte) func(huma.Context) {
	return func(c huma.Context) {
		c.SetStatus(http.StatusOK)
		_, _ = c.BodyWriter().Write(b) // who hung up needs no answer
	}
}

func handle[I, O any](s *server, op huma.Operation, h func(*server, context.Context, *I) (*O, error)) {
	huma.Register(s.api, op, func(ctx context.Context, in *I) (*O, error) {
		out, err := h(s, ctx, in)
		if err != nil {
			return nil, s.problem(ctx, op, err)
		}
		return out, nil
	})
}

// one is the answer of a route about one thing.
type one[T any] struct {
	ETag string `header:"ETag" doc:"Version of what is answered; send it back as If-Match"`
	Body T
}

// plain is an answer without a version.
type plain[T any] struct{ Body T }

func answer[T any](v T, err error) (*plain[T], error) {
	if err != nil {
		return nil, err
	}
	return &plain[T]{Body: v}, nil
}
