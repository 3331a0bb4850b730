package main

import (
	"io"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// demoAddress is the line of the demo's greeting that has its address.
var demoAddress = regexp.MustCompile(`^  http://(localhost:\d+)$`)

// TestDemo runs the demo as a person does, on a database of its own, looks at
// what it prints and whether it lets everybody in, and then has verify look at
// the same database as it is and after it was tampered with.
func TestDemo(t *testing.T) {
	if taken, err := net.Listen("tcp", "127.0.0.1:8080"); err == nil { // else somebody else has taken it
		t.Cleanup(func() { _ = taken.Close() })
	}
	db := filepath.Join(t.TempDir(), "demo.db")
	p := begin(t, demoAddress, "demo", "--db", db)
	assert.NotEqual(t, "localhost:8080", p.address, "the usual port is taken")
	assert.Equal(t, "ok\n", body(t, p, "/healthz"))
	assert.Equal(t, "ready\n", body(t, p, "/readyz"))
	page := body(t, p, "/sign-in")
	eventually(t, "the greeting is printed", func() bool { return strings.Contains(p.printed.String(), "Ctrl-C") })
	people := regexp.MustCompile(`(?m)^  (\S.*?) {2,}(crew|quartermaster|manager|administrator) {2,}(all|[A-Z ]+?) {2,}(\S.*)$`).FindAllStringSubmatch(p.printed.String(), -1)
	roles := map[string]bool{}
	for _, x := range people {
		name, role, secret := x[1], x[2], x[4]
		roles[role] = true
		assert.Contains(t, page, name, "the sign-in page of the demo shows who there is")
		assert.NotEmpty(t, signIn(t, p, name, secret), name)
	}
	assert.Len(t, roles, 4, "somebody of each role: %s", p.printed)
	p.stop()

	again := begin(t, demoAddress, "demo", "--db", db, "--listen", "127.0.0.1:0")
	assert.NotContains(t, again.log.String(), "Loading", "what was loaded is not loaded twice")
	again.stop()
	t.Run("verify", func(t *testing.T) { testVerify(t, db) })
}

// body gets a page that is open to strangers.
func body(t testing.TB, p *process, path string) string {
	t.Helper()
	res, err := http.Get("http://" + p.address + path)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, res.StatusCode, path)
	return string(b)
}

// signIn signs a person in on the page and returns the session's cookie, empty
// where the person was not let in.
func signIn(t testing.TB, p *process, name, secret string) string {
	t.Helper()
	c := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := c.PostForm("http://"+p.address+"/sign-in", url.Values{"name": {name}, "secret": {secret}})
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	for _, cookie := range res.Cookies() {
		if cookie.Value != "" && res.StatusCode == http.StatusSeeOther {
			return cookie.Value
		}
	}
	return ""
}
