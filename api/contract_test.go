package api_test

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
)

// contract is the served document, loaded by a validator of its own making.
// For documents of version 3.1 openapi3filter judges by JSON Schema 2020-12.
type contract struct {
	doc    *openapi3.T
	router routers.Router
}

var contractOnce sync.Once
var theContract contract

// loadContract loads the document as it is served, once for all tests: it does
// not depend on the database.
func loadContract(t *testing.T, served func() []byte) contract {
	t.Helper()
	contractOnce.Do(func() {
		doc, err := openapi3.NewLoader().LoadFromData(served())
		require.NoError(t, err)
		require.NoError(t, doc.Validate(context.Background()))
		require.True(t, doc.IsOpenAPI31OrLater())
		router, err := legacy.NewRouter(doc)
		require.NoError(t, err)
		for _, ct := range []string{"image/svg+xml", "image/png", "application/pdf",
			"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "text/csv"} {
			openapi3filter.RegisterBodyDecoder(ct, openapi3filter.FileBodyDecoder)
		}
		openapi3filter.RegisterBodyDecoder("application/openapi+json", openapi3filter.JSONBodyDecoder)
		theContract = contract{doc, router}
	})
	return theContract
}

// served asks the engine for the document without going through RoundTrip.
func (w *world) served() []byte {
	r, err := http.NewRequest(http.MethodGet, "http://kit.example.org"+api.Base+"/openapi.json", nil)
	require.NoError(w.t, err)
	r.Header.Set("Authorization", "Bearer "+w.tokens[inventory.Crew])
	rec := httptest.NewRecorder()
	w.engine.ServeHTTP(rec, r)
	require.Equal(w.t, http.StatusOK, rec.Code)
	return rec.Body.Bytes()
}

// agrees fails the test where an exchange is not as the document says. Paths
// that the document does not know must have been refused by a problem.
func (w *world) agrees(r *http.Request, sent []byte, status int, header http.Header, body []byte) {
	w.t.Helper()
	c := loadContract(w.t, w.served)
	route, params, err := c.find(r)
	if err != nil {
		assert.Contains(w.t, []int{http.StatusNotFound, http.StatusMethodNotAllowed}, status, "%s %s is not in the document",
			r.Method, r.URL.Path)
		assert.Equal(w.t, "application/problem+json", header.Get("Content-Type"))
		return
	}
	in := c.input(r, sent, route, params)
	if status < 300 {
		assert.NoError(w.t, openapi3filter.ValidateRequest(r.Context(), in),
			"the document refuses a request that was taken: %s %s %s", r.Method, r.URL, sent)
	}
	assert.NoError(w.t, c.validate(in, status, header, body), "%s %s answered %d %s", r.Method, r.URL, status, short(body))
}

// find looks a request up in the document, whose server is a path alone.
func (c contract) find(r *http.Request) (*routers.Route, map[string]string, error) {
	here := r.Clone(r.Context())
	here.URL = &url.URL{Path: r.URL.Path}
	return c.router.FindRoute(here)
}

func (c contract) input(r *http.Request, sent []byte, route *routers.Route,
	params map[string]string) *openapi3filter.RequestValidationInput {
	again := r.Clone(r.Context())
	again.Body = io.NopCloser(bytes.NewReader(sent))
	return &openapi3filter.RequestValidationInput{Request: again, PathParams: params, Route: route,
		Options: &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc,
			IncludeResponseStatus: true}}
}

func (c contract) validate(in *openapi3filter.RequestValidationInput, status int, header http.Header,
	body []byte) error {
	return openapi3filter.ValidateResponse(in.Request.Context(), &openapi3filter.ResponseValidationInput{
		RequestValidationInput: in, Status: status, Header: header, Body: io.NopCloser(bytes.NewReader(body)),
		Options: in.Options})
}

func short(b []byte) string { return string(b[:min(len(b), 2000)]) }

func TestWrongAnswersFailValidation(t *testing.T) {
	w := newWorld(t)
	c := loadContract(t, w.served)
	r, err := http.NewRequest(http.MethodGet, "http://kit.example.org"+api.Base+"/stations", nil)
	require.NoError(t, err)
	route, params, err := c.find(r)
	require.NoError(t, err)
	in := c.input(r, nil, route, params)
	header := http.Header{"Content-Type": {"application/json"}}
	right := `{"data":[{"code":"N1","name":"North One","timezone":"Europe/London"}]}`
	require.NoError(t, c.validate(in, http.StatusOK, header, []byte(right)))

	for name, wrong := range map[string]string{
		"number for a text": strings.Replace(right, `"N1"`, `7`, 1),
		"member missing":    strings.Replace(right, `"name":"North One",`, ``, 1),
		"member too many":   strings.Replace(right, `"code"`, `"colour":"red","code"`, 1),
		"null for a list":   `{"data":null}`,
	} {
		assert.Error(t, c.validate(in, http.StatusOK, header, []byte(wrong)), name)
	}
	assert.Error(t, c.validate(in, http.StatusNotFound, http.Header{"Content-Type": {"application/problem+json"}},
		[]byte(`{"status":"404"}`)), "a problem without its members")
}
