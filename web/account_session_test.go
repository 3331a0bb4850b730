package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

func TestCookie(t *testing.T) {
	w := newWorld(t)
	for base, secure := range map[string]bool{"https://stock.example.org": true, "http://127.0.0.1:8080": false} {
		opt := w.options()
		opt.BaseURL, opt.CookieName = base, "own_name"
		r := gin.New()
		require.NoError(t, Mount(r, w.svc, opt))
		c := w.stranger()
		c.handler = r
		c.post("/sign-in", url.Values{"name": {"Kim Crew"}, "secret": {crewPIN}})
		require.NotNil(t, c.cookie, base)
		assert.Equal(t, "own_name", c.cookie.Name)
		assert.True(t, c.cookie.HttpOnly)
		assert.Equal(t, http.SameSiteLaxMode, c.cookie.SameSite)
		assert.Equal(t, secure, c.cookie.Secure, base)
		assert.Equal(t, "/", c.cookie.Path)
		assert.Equal(t, http.StatusOK, c.get("/board").res.Code)
	}
	assert.Equal(t, "stowkeeper_session", w.as("Kim Crew").cookie.Name)
}

func TestSignOutEndsTheSession(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew")
	old := *c.cookie
	c.post("/sign-out", url.Values{})
	assert.Nil(t, c.cookie)
	assert.Equal(t, `"cache"`, c.res.Header().Get("Clear-Site-Data"))
	c.cookie = &old // somebody kept it
	assert.Equal(t, http.StatusSeeOther, c.get("/board").res.Code)
	assert.Equal(t, "/sign-in?next=%2Fboard", c.location())
}

// Each page is sent with what keeps it from running anything but its own.
func TestPageHeaders(t *testing.T) {
	c := newWorld(t).as("Kim Crew").get("/b/CEN-01")
	h := c.res.Header()
	csp := h.Get("Content-Security-Policy")
	for _, part := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "form-action 'self'",
		"frame-ancestors 'none'", "base-uri 'none'"} {
		assert.Contains(t, csp, part)
	}
	assert.NotContains(t, csp, "unsafe")
	assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
	assert.Equal(t, "private, no-cache", h.Get("Cache-Control"))
	body := c.res.Body.String()
	assert.NotContains(t, body, "style=")
	assert.NotContains(t, body, "onclick=")
	assert.NotRegexp(t, `<script[^>]*>[^<]`, body)
}

// A form that another station makes the browser send is refused, and the page
// names the two values that differ.
func TestFormsOfOtherStations(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew")
	send := func(host, origin, fetch string) int {
		r := httptest.NewRequest(http.MethodPost, "/b/CEN-01/out-of-service", strings.NewReader(url.Values{"key": {newKey()},
			"reason": {"torn"}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Host = host
		for name, v := range map[string]string{"Origin": origin, "Sec-Fetch-Site": fetch} {
			if v != "" {
				r.Header.Set(name, v)
			}
		}
		return c.do(r).res.Code
	}
	assert.Equal(t, 303, send("stock.example.org", "https://stock.example.org", "same-origin"))
	assert.Equal(t, 403, send("stock.example.org", "https://evil.example", "cross-site"))
	assert.Equal(t, 403, send("stock.example.org", "https://evil.example", ""))
	assert.Contains(t, c.text(), `This form came from “https://evil.example”, but the service runs as “stock.example.org”`)
	assert.Equal(t, 403, send("stock.example.org", "null", "cross-site"))
	assert.Equal(t, 303, send("10.0.0.7:8080", "https://stock.example.org", ""),
		"a proxy rewrote Host; the base URL is trusted")
	assert.Equal(t, 303, send("192.168.1.5", "http://192.168.1.5", ""), "a plain address without Sec-Fetch-Site")
}

// A double tap counts once, and both taps see the same answer.
func TestDoubleTap(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew")
	to, values := c.get("/b/CEN-01").form("/seal-check")
	first := c.post(to, values).location()
	second := c.post(to, values).location()
	assert.Equal(t, first, second)
	assert.Contains(t, first, "done=check-")
	checks, err := w.svc.Shift.Checks(t.Context(), admin, inventory.RecordFilter{Bag: "CEN-01"}, inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, checks, 2, "the world's own count, and the one seal check")

	// The same form with other values is not the same request.
	values.Set("seal_seen", "77")
	c.post(to, values)
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	assert.Contains(t, c.text(), "This form was already sent with other values")
	_, again := c.form("/seal-check")
	assert.NotEqual(t, values.Get("key"), again.Get("key"), "sending it again is something further")
	assert.Equal(t, "77", again.Get("seal_seen"))
}

// Two people may send the same key: it is theirs each.
func TestKeysBelongToPeople(t *testing.T) {
	w := newWorld(t)
	values := url.Values{"key": {"same"}, "reason": {"torn"}}
	assert.Equal(t, 303, w.as("Kim Crew").post("/b/CEN-01/out-of-service", values).res.Code)
	assert.Equal(t, 303, w.as("Quinn Master").post("/b/CEN-01/out-of-service", values).res.Code)
}

// A session that ends while somebody counts costs them nothing: what they
// typed is carried through the sign-in.
func TestSessionEndsDuringACheck(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew").get("/b/CEN-01/full-check")
	to, values := c.form("/full-check")
	values.Set("note", "counted <twice>")
	w.later(account.SessionIdle + time.Hour)
	c.post(to, values)
	assert.Equal(t, http.StatusUnauthorized, c.res.Code)
	assert.Contains(t, c.text(), "Your session ended. Sign in to send your entries.")

	c.submit("/sign-in", url.Values{"name": {"Kim Crew"}, "secret": {"0000"}})
	assert.Equal(t, http.StatusUnauthorized, c.res.Code)
	c.submit("/sign-in", url.Values{"name": {"Kim Crew"}, "secret": {crewPIN}})
	assert.Equal(t, http.StatusOK, c.res.Code, c.text())
	_, carried := c.form("/full-check")
	assert.Equal(t, values, carried)
	c.submit("/full-check", nil).follow()
	assert.Contains(t, c.text(), "Full check recorded")
	checks, err := w.svc.Shift.Checks(t.Context(), admin, inventory.RecordFilter{Bag: "CEN-01"}, inventory.Page{Limit: 1})
	require.NoError(t, err)
	assert.Equal(t, "counted <twice>", checks[0].Note)
}

// What is carried may only go to a page of this service.
func TestCarryGoesNowhereElse(t *testing.T) {
	c := newWorld(t).stranger().post("/sign-in", url.Values{"name": {"Kim Crew"}, "secret": {crewPIN},
		"carry_to": {"https://evil.example/"}, "carry.a": {"b"}})
	assert.Equal(t, http.StatusSeeOther, c.res.Code)
	assert.Equal(t, "/", c.location())
}
