package api_test

import (
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
)

func init() { gin.SetMode(gin.TestMode) }

// began is the instant at which every test begins: 08:00 in London.
var began = inventory.InstantOf(time.Date(2027, 6, 14, 7, 0, 0, 0, time.UTC))

// world is a service on a real database file, with the API mounted, and one
// program for each role that speaks to it.
type world struct {
	t      *testing.T
	store  inventory.Store
	svc    *services.All
	engine *gin.Engine
	client *http.Client
	tokens map[inventory.Role]string
	log    *safeBuffer

	unchecked bool // exchanges are not compared with the document

	mu  sync.Mutex
	now inventory.Instant
}

// safeBuffer is a log that several requests write to.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// setup is who makes the first tokens, as the command line does.
var setup = inventory.Actor{Name: "setup", Role: inventory.Administrator}

func newWorld(t *testing.T) *world {
	t.Helper()
	return newWorldOn(t, filepath.Join(t.TempDir(), "api.db"))
}

// newWorldOn is a world on a database that is given, by file or by address.
func newWorldOn(t *testing.T, db string) *world {
	t.Helper()
	w, end := openWorldOn(t, db)
	t.Cleanup(end)
	return w
}

// openWorld is newWorld for who ends it before the test ends.
func openWorld(t *testing.T) (w *world, end func()) {
	t.Helper()
	return openWorldOn(t, filepath.Join(t.TempDir(), "api.db"))
}

func openWorldOn(t *testing.T, db string) (w *world, end func()) {
	t.Helper()
	s, err := store.Open(t.Context(), db, store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	end = func() { require.NoError(t, s.Close()) }
	w = &world{t: t, store: s, now: began, tokens: map[inventory.Role]string{}, log: &safeBuffer{}}
	w.serve(s)
	w.client = &http.Client{Transport: w}
	for _, station := range []inventory.Station{{Code: "N1", Name: "North One", Timezone: "Europe/London"}, {Code: "S2",
		Name: "South Two", Timezone: "Europe/Athens"}} {
		_, err := w.svc.Lists.CreateStation(t.Context(), setup, station)
		require.NoError(t, err)
	}
	for _, role := range inventory.Roles {
		w.tokens[role] = w.token(role, "N1")
	}
	return w, end
}

// serve mounts the API over a store.
func (w *world) serve(s inventory.Store) {
	w.t.Helper()
	published, err := lists.ParsePublished([]byte(publishedTable))
	require.NoError(w.t, err)
	w.svc = services.New(s, w.clock, services.Options{Published: published})
	w.engine = gin.New()
	require.NoError(w.t, api.Mount(w.engine, w.svc, api.Options{BaseURL: "https://kit.example.org",
		Secrets: plainSecrets{}, Logger: slog.New(slog.NewTextHandler(w.log, nil))}))
}

func (w *world) clock() inventory.Instant {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now
}

func (w *world) pass(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = w.now.Add(d)
}

// token makes a program of a role at some stations; an administrator's has all.
func (w *world) token(role inventory.Role, stations ...string) string {
	w.t.Helper()
	if role == inventory.Administrator {
		stations = nil
	}
	text, err := w.svc.Account.CreateToken(w.t.Context(), setup, inventory.Token{Name: string(role) + " " +
		strings.Join(stations, ","), Role: role, Stations: stations, EndsAt: w.clock().Add(account.LongestToken)})
	require.NoError(w.t, err)
	return text
}

// RoundTrip serves a request, and fails the test where request or answer do
// not agree with the document that the API serves.
func (w *world) RoundTrip(r *http.Request) (*http.Response, error) {
	var sent []byte
	if r.Body != nil {
		sent, _ = io.ReadAll(r.Body)
		r.Body = io.NopCloser(bytes.NewReader(sent))
	}
	rec := httptest.NewRecorder()
	w.engine.ServeHTTP(rec, r)
	res := rec.Result()
	res.Request = r
	if !w.unchecked {
		w.agrees(r, sent, res.StatusCode, res.Header, rec.Body.Bytes())
	}
	return res, nil
}

// call is one request being put together.
type call struct {
	w      *world
	method string
	path   string
	header http.Header
	body   []byte
}

func (w *world) as(role inventory.Role, method, path string) *call {
	return w.with(w.tokens[role], method, path)
}

func (w *world) with(token, method, path string) *call {
	c := &call{w: w, method: method, path: path, header: http.Header{}}
	if token != "" {
		c.header.Set("Authorization", "Bearer "+token)
	}
	return c
}

func (c *call) set(name, value string) *call { c.header.Set(name, value); return c }

func (c *call) key(k string) *call { return c.set("Idempotency-Key", k) }

// text gives the body as it is.
func (c *call) text(body string) *call { c.body = []byte(body); return c }

// json gives the body as JSON text.
func (c *call) json(body string) *call { return c.set("Content-Type", "application/json").text(body) }

// answer is what came back.
type answer struct {
	t      *testing.T
	status int
	header http.Header
	body   []byte
}

// do sends the request.
func (c *call) do() answer {
	c.w.t.Helper()
	r, err := http.NewRequestWithContext(c.w.t.Context(), c.method, "http://kit.example.org"+api.Base+c.path,
		bytes.NewReader(c.body))
	require.NoError(c.w.t, err)
	r.Header = c.header
	res, err := c.w.client.Do(r)
	require.NoError(c.w.t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(c.w.t, err)
	return answer{c.w.t, res.StatusCode, res.Header, b}
}

// want sends the request and fails the test unless the status is this one.
func (c *call) want(status int) answer {
	c.w.t.Helper()
	a := c.do()
	require.Equal(c.w.t, status, a.status, "%s %s: %s", c.method, c.path, a.body)
	return a
}

// into decodes the answer.
func (a answer) into(v any) {
	a.t.Helper()
	require.NoError(a.t, json.Unmarshal(a.body, v), "%s", a.body)
}

// problem decodes the answer as a problem document.
func (a answer) problem() api.Problem {
	a.t.Helper()
	require.Equal(a.t, "application/problem+json", a.header.Get("Content-Type"), "%s", a.body)
	var p api.Problem
	a.into(&p)
	require.Equal(a.t, a.status, p.Status)
	return p
}

func decoded[T any](a answer) T {
	a.t.Helper()
	var v T
	a.into(&v)
	return v
}

type listOf[T any] struct {
	Data       []T    `json:"data"`
	NextCursor string `json:"next_cursor"`
}
