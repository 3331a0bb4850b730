package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A browser that was enrolled before the demo began again signs in as any other on this machine. Where a service was
// restored without its terminal, the page says so, and calls no right PIN wrong.
func TestABrowserOfAnEarlierService(t *testing.T) {
	w := newWorld(t)
	enter := func(demo string) *client {
		opt := w.options()
		opt.DemoTerminal = demo
		r := gin.New()
		require.NoError(t, Mount(r, w.svc, opt))
		c := w.stranger()
		c.handler, c.others["stowkeeper_terminal"].Value = r, "of an earlier service"
		in := httptest.NewRequest(http.MethodPost, "/sign-in", nil)
		in.RemoteAddr = "127.0.0.1:4000"
		in.PostForm = url.Values{"name": {"Kim Crew"}, "secret": {crewPIN}}
		return c.do(in)
	}
	assert.Equal(t, http.StatusSeeOther, enter(w.terminal).res.Code)
	c := enter("")
	assert.Equal(t, http.StatusUnauthorized, c.res.Code)
	assert.Contains(t, c.text(), "This browser is not enrolled.")
}

func TestBrowserOf(t *testing.T) {
	for agent, want := range map[string]string{
		"Mozilla/5.0 (Android 14; Mobile; rv:130.0) Gecko/130.0 Firefox/130.0": "Firefox on Android",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/129.0.0.0 Safari/537.36 " +
			"Edg/129.0.0.0": "Edge on Windows",
		"Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) " +
			"Chrome/129.0.0.0 Safari/537.36": "Chrome on Linux",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 " +
			"Mobile/15E148 Safari/604.1": "Safari on iPhone",
		"<script>alert(1)</script>\xff": "a browser",
		"":                              "a browser",
	} {
		assert.Equal(t, want, browserOf(agent))
	}
}

// TestOnThisMachine: only what comes over the loopback, and through no proxy,
// is taken for a browser on the machine of a demo.
func TestOnThisMachine(t *testing.T) {
	for _, c := range []struct {
		remote, header string
		want           bool
	}{
		{"127.0.0.1:4000", "", true}, {"[::1]:4000", "", true},
		{"127.0.0.1:4000", "X-Forwarded-For", false}, {"127.0.0.1:4000", "Forwarded", false},
		{"192.0.2.7:4000", "", false}, {"nonsense", "", false},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.RemoteAddr = c.remote
		if c.header != "" {
			r.Header.Set(c.header, "127.0.0.1")
		}
		assert.Equal(t, c.want, onThisMachine(r), "%s %s", c.remote, c.header)
	}
}
