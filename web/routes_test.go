package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// The router has the routes of the table and no others.
func TestRouterIsTheTable(t *testing.T) {
	w := newWorld(t)
	var inTable, inRouter []string
	s, err := newServer(w.svc, w.options())
	require.NoError(t, err)
	for _, rt := range s.routes() {
		assert.Contains(t, inventory.Actions, rt.Action, "%s %s", rt.Method, rt.Path)
		inTable = append(inTable, rt.Method+" "+rt.Path)
	}
	for _, ri := range w.router.Routes() {
		inRouter = append(inRouter, ri.Method+" "+ri.Path)
	}
	slices.Sort(inTable)
	slices.Sort(inRouter)
	assert.Equal(t, inTable, inRouter)
}

func TestRouteWithoutActionIsRefused(t *testing.T) {
	for _, action := range []inventory.Action{"", "anything"} {
		err := (&server{}).register(gin.New(), Route{get, "/x", action, (&server{}).home})
		require.Error(t, err)
		assert.Contains(t, err.Error(), "GET /x names no action")
	}
}

// Only these pages are open to a stranger.
func TestOpenRoutes(t *testing.T) {
	w := newWorld(t)
	s, err := newServer(w.svc, w.options())
	require.NoError(t, err)
	var open []string
	for _, rt := range s.routes() {
		if rt.Action == inventory.ActOpen {
			open = append(open, rt.Method+" "+rt.Path)
		}
	}
	assert.Equal(t, []string{"GET /assets/:name", "GET /worker.js", "GET /no-signal", "GET /waiting-here", "GET /sign-in",
		"POST /sign-in", "POST /sign-out", "POST /look", "GET /enrol/:link", "POST /enrol/:link", "GET /calendar/:link",
		"GET /welcome/:link", "POST /welcome/:link"}, open)
}

// filled puts values into a route's path.
func (w *world) filled(path string) string {
	return strings.NewReplacer(":code", "CEN-01", ":place", "CEN-STORE", ":station", "CEN", ":item", "AMP", ":name",
		"style.css", "/lots/:id", "/lots/"+strconv.FormatInt(w.lots["TQ/A1"], 10), ":lot",
		strconv.FormatInt(w.lots["TRAINTQ/T1"], 10), ":notice", "1", ":person", "1", ":terminal", "9", ":token", "9", ":id",
		"1", ":delivery", "1", ":line", "1", ":job", "NONE", ":list", "none", ":product", "1", ":kind", "sign-out", ":entry",
		"1").Replace(path)
}

// Posting nothing that makes sense changes nothing, as every role.
func TestPostsThatMakeNoSense(t *testing.T) {
	w := newWorld(t)
	s, err := newServer(w.svc, w.options())
	require.NoError(t, err)
	before := w.heads()
	c := w.as("Ada Ministrator")
	for _, rt := range s.routes() {
		if rt.Method != post || rt.Action == inventory.ActOpen {
			continue
		}
		for _, form := range []url.Values{
			{},
			{"key": {"k"}, "position": {"x"}},
			{"key": {strings.Repeat("k", 101)}},
			{"key": {"k2"}, "position": {"-1"}, "row.0.1.counted": {"-5"}, "use.1@.qty": {"99999999999999999999"},
				"in.x@y@0.qty": {"1"}, "qty": {"1e9"}},
			{"key": {"k3"}, "incident": {"\xff\xfe"}, "seal_seen": {"\x00"}, "note": {"\xc3"}, "reason": {"\xff"},
				"use.1@.qty": {"1"}, "name": {"\xff"}},
			{"key": {"k4"}, "row.0.999.counted": {"1"}, "use.999@.qty": {"1"}, "in.999@CEN-STORE@0.qty": {"1"},
				"out.1@used@0.qty": {"1"}, "incident": {"i"}, "decision": {"accept"}},
		} {
			c.post(w.filled(rt.Path), form)
			assert.GreaterOrEqual(t, c.res.Code, 300, "%s: %v", rt.Path, form)
			assert.Less(t, c.res.Code, 500, "%s: %v", rt.Path, form)
			if c.res.Code < 400 {
				assert.Contains(t, []string{"/b/:code/out-of-service", "/b/:code/return-to-service", "/columns",
					"/stations/:station"}, rt.Path, "%v was taken", form)
			}
		}
	}
	assert.Equal(t, before, w.heads(), "a movement was recorded")
}
