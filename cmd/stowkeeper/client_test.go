package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// client speaks to a running server's API over HTTP with one token.
type client struct {
	t     testing.TB
	base  string // http://address
	token string
	http  *http.Client
}

func newClient(t testing.TB, p *process, token string) *client {
	return &client{t: t, base: "http://" + p.address, token: token, http: &http.Client{Timeout: patience}}
}

// as is the same client with another token.
func (c client) as(token string) *client {
	c.token = token
	return &c
}

// fields is a JSON object.
type fields map[string]any

// reply is what came back.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// send makes one request; header holds names and values in turn.
func (c *client) send(method, path string, body any, header ...string) (reply, error) {
	var sent io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return reply{}, err
		}
		sent = bytes.NewReader(b)
	}
	r, err := http.NewRequest(method, c.base+path, sent)
	if err != nil {
		return reply{}, err
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	res, err := c.http.Do(r)
	if err != nil {
		return reply{}, err
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	return reply{c.t, res.StatusCode, res.Header, b}, err
}

// want sends a request to the API and fails the test unless it is answered
// with this status.
func (c *client) want(status int, method, path string, body any, header ...string) reply {
	c.t.Helper()
	a, err := c.send(method, "/api/v1"+path, body, header...)
	require.NoError(c.t, err)
	require.Equal(c.t, status, a.status, "%s %s: %s", method, path, a.body)
	return a
}

func (c *client) get(path string) reply {
	c.t.Helper()
	return c.want(http.StatusOK, http.MethodGet, path, nil)
}

// post makes something, and expects it to be made.
func (c *client) post(path string, body any, header ...string) reply {
	c.t.Helper()
	return c.want(http.StatusCreated, http.MethodPost, path, body, header...)
}

// keyed posts a record with its key.
func (c *client) keyed(key, path string, body any) reply {
	c.t.Helper()
	return c.post(path, body, "Idempotency-Key", key)
}

// decode reads a reply; members that the type does not know fail the test, so
// that no number goes unlooked at.
func decode[T any](a reply) T {
	a.t.Helper()
	var v T
	d := json.NewDecoder(bytes.NewReader(a.body))
	d.DisallowUnknownFields()
	require.NoError(a.t, d.Decode(&v), "%s", a.body)
	return v
}

// part reads what the type knows of a reply and leaves the rest.
func part[T any](a reply) T {
	a.t.Helper()
	var v T
	require.NoError(a.t, json.Unmarshal(a.body, &v), "%s", a.body)
	return v
}

// page is a list as the API answers it.
type page[T any] struct {
	Data       []T    `json:"data"`
	NextCursor string `json:"next_cursor"`
}

// all reads a list to its end; path has a query already.
func all[T any](c *client, path string) []T {
	c.t.Helper()
	var out []T
	for cursor := ""; ; {
		p := part[page[T]](c.get(path + "&limit=1000&cursor=" + cursor))
		out = append(out, p.Data...)
		if cursor = p.NextCursor; cursor == "" {
			return out
		}
	}
}

// eventually waits until something is true; the deadline is generous.
func eventually(t testing.TB, what string, is func() bool) {
	t.Helper()
	for deadline := time.Now().Add(patience); !is(); time.Sleep(time.Millisecond) {
		require.True(t, time.Now().Before(deadline), "waited too long until %s", what)
	}
}
