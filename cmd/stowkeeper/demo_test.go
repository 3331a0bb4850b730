package main

import (
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/testdata"
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
	db := oldDemo(t)
	p := begin(t, demoAddress, "demo", "--db", db, "--fresh")
	assert.NotEqual(t, "localhost:8080", p.address, "the usual port is taken")
	assert.Equal(t, "ok\n", body(t, p, "/healthz"))
	assert.Equal(t, "ready\n", body(t, p, "/readyz"))
	page := body(t, p, "/sign-in")
	eventually(t, "the greeting is printed", func() bool { return strings.Contains(p.printed.String(), "Ctrl-C") })
	people := regexp.MustCompile(
		`(?m)^  (\S.*?) {2,}(crew|quartermaster|manager|administrator) {2,}(all|[A-Z ]+?) {2,}(\S.*)$`).
		FindAllStringSubmatch(p.printed.String(), -1)
	roles := map[string]bool{}
	for _, x := range people {
		name, role, secret := x[1], x[2], x[4]
		roles[role] = true
		assert.Contains(t, page, name, "the sign-in page of the demo shows who there is")
		assert.NotEmpty(t, signIn(t, p, name, secret), name)
	}
	assert.Len(t, roles, 4, "somebody of each role: %s", p.printed)
	t.Run("short pages", func(t *testing.T) { testShortPages(t, p) })
	t.Run("few bytes", func(t *testing.T) { testFewBytes(t, p) })
	p.stop()

	db = asOwn(t, db)
	again := begin(t, demoAddress, "demo", "--listen", "127.0.0.1:0")
	assert.NotContains(t, again.log.String(), "Loading", "what was loaded is not loaded twice")
	token := newToken(t, db, "manager", "reader")
	stations := all[struct{ Code string }](newClient(t, again, token), "/stations?")
	assert.Equal(t, []struct{ Code string }{{"FM"}, {"HT"}, {"OV"}, {"SQ"}}, stations, "what was there before is gone")
	again.stop()
	t.Run("pages agree", func(t *testing.T) { testPagesAgree(t, db) })
	t.Run("verify", func(t *testing.T) { testVerify(t, db) })
}

// asOwn copies a demo database to where the demo keeps its own, as one that was
// made today, and returns the file. The folder lasts as long as the test.
func asOwn(t *testing.T, db string) string {
	t.Helper()
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CACHE_HOME", filepath.Join(home, "cache"))
	own, err := ownFile()
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(own, home), own)
	bytes, err := os.ReadFile(db)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(own, bytes, 0o600))
	require.NoError(t, os.WriteFile(own+".day", []byte(today()), 0o600))
	return own
}

// oldDemo returns a database with the people of the demo and one station that it
// does not have: what --fresh must replace, and not add to.
func oldDemo(t *testing.T) string {
	t.Helper()
	db := filepath.Join(t.TempDir(), "demo.db")
	s, err := store.Open(t.Context(), db, store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	defer s.Close()
	svc := services.New(s, clock, services.Options{})
	_, err = svc.Lists.CreateStation(t.Context(), operator, inventory.Station{Code: "OLD", Name: "Old station",
		Timezone: "Europe/London"})
	require.NoError(t, err)
	signIns, err := demo.SignIns(testdata.Demo)
	require.NoError(t, err)
	for _, x := range signIns {
		_, err := svc.Account.CreatePerson(t.Context(), operator, inventory.Person{Name: x.Name, Role: inventory.Role(x.Role),
			Stations: []string{"OLD"}}, x.Secret, secret.Argon2id{})
		require.NoError(t, err)
	}
	return db
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
	return signInOn(t, p, "", name, secret)
}

// signInOn is signIn on a browser that has a terminal's cookie.
func signInOn(t testing.TB, p *process, terminal, name, secret string) string {
	t.Helper()
	c := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	form := url.Values{"name": {name}, "secret": {secret}}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+p.address+"/sign-in",
		strings.NewReader(form.Encode()))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.AddCookie(&http.Cookie{Name: "stowkeeper_terminal", Value: terminal})
	res, err := c.Do(r)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	for _, cookie := range res.Cookies() {
		if cookie.Name == "stowkeeper_session" && cookie.Value != "" && res.StatusCode == http.StatusSeeOther {
			return cookie.Value
		}
	}
	return ""
}

// chromium returns the browser's path. Without one the test is skipped, unless
// STOWKEEPER_NO_SKIP=1 says that it must not be.
func chromium(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
			t.Fatal("no chromium, and STOWKEEPER_NO_SKIP=1")
		}
		t.Skip("no chromium on this machine")
	}
	return path
}

// testShortPages has a crew open the trauma bag of the tour on a phone: what they must act on is not buried, neither on
// the bag's page nor in its full check.
func testShortPages(t *testing.T, p *process) {
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox)
	phone, cancel := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(cancel)
	phone, cancel = chromedp.NewContext(phone)
	t.Cleanup(cancel)
	_, err := chromedp.Call(phone, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 360,
		Height: 740, DeviceScaleFactor: 1, Mobile: true})
	require.NoError(t, err)
	_, err = chromedp.Call(phone, network.SetCookie, network.SetCookieParams{Name: "stowkeeper_session",
		Value: signIn(t, p, "Dilys Wrenfield", "4821"), URL: "http://" + p.address})
	require.NoError(t, err)
	for path, most := range map[string]float64{"/b/FM-TR1": 3, "/b/FM-TR1/full-check": 5} {
		require.NoError(t, chromedp.Do(phone, chromedp.Navigate("http://"+p.address+path)))
		screens, err := chromedp.Run(phone, chromedp.Evaluate[float64]("document.documentElement.scrollHeight / innerHeight"))
		require.NoError(t, err)
		where, err := chromedp.Run(phone, chromedp.Evaluate[string]("location.pathname"))
		require.NoError(t, err)
		assert.Equal(t, path, where)
		ends, err := chromedp.Run(phone, chromedp.Evaluate[int]("document.querySelectorAll('.ends').length"))
		require.NoError(t, err)
		// at the end of a month a batch of the demo ends before the next check, which is said a second time
		assert.LessOrEqual(t, screens, most+0.4*float64(ends), path)
	}
}
