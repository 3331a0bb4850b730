package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"html"
	"io"
	"log/slog"
	"math/big"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/workbook"
)

// TestScopedTokensSeeNoMore: what a token is kept to holds inside answers too,
// that say more to whoever may do more.
func TestScopedTokensSeeNoMore(t *testing.T) {
	c := compose(t)
	ask := func(path string, scope ...inventory.Action) string {
		text, err := c.svc.Account.CreateToken(t.Context(), operator, inventory.Token{Name: fmt.Sprint(path, scope),
			Role: inventory.Administrator, Scope: scope})
		require.NoError(t, err)
		rec := c.do(http.MethodGet, api.Base+path, "", "Authorization", "Bearer "+text)
		require.Equal(t, http.StatusOK, rec.Code, rec.Body)
		return rec.Body.String()
	}
	for _, path := range []string{"/lots/" + c.things["N1"]["lots/:id"], "/devices/" + c.things["N1"]["devices/:lot"]} {
		assert.Contains(t, ask(path, inventory.ActSee, inventory.ActHistory), `"reason":"receipt"`, path)
		assert.NotContains(t, ask(path, inventory.ActSee), `"reason":"receipt"`, path)
	}
	sheets := func(scope ...inventory.Action) []string {
		data := ask("/export.xlsx", scope...)
		book, err := workbook.Open(strings.NewReader(data), int64(len(data)))
		require.NoError(t, err)
		defer book.Close()
		return book.Tables()
	}
	assert.Subset(t, sheets(inventory.ActKeepLists, inventory.ActKeepPeople, inventory.ActHistory), []string{"people",
		"movements", "items"})
	kept := sheets(inventory.ActKeepLists)
	assert.Contains(t, kept, "items")
	assert.NotContains(t, kept, "people")
	assert.NotContains(t, kept, "movements")
}

// TestForgedHost: what a request says of the host it was sent to leads nobody
// away from any route, and stands in no link and no picture.
func TestForgedHost(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Quartermaster)
	token := c.token(inventory.Quartermaster)
	for _, d := range c.doors() {
		if d.method != http.MethodGet {
			continue
		}
		path, _ := c.pathAt("N1", d.path)
		who := [][]string{nil, {"Cookie", session.Name + "=" + session.Value}}
		if d.api {
			who[1] = []string{"Authorization", "Bearer " + token}
		}
		for _, who := range who {
			r := httptest.NewRequestWithContext(t.Context(), d.method, "https://evil.example"+path+"?"+c.at("N1").
				Replace(queries[d.path]), nil)
			for i, header := 0, append([]string{"X-Forwarded-Host", "evil.example", "X-Forwarded-Server", "evil.example",
				"Forwarded", "host=evil.example", "X-Original-URL", "//evil.example/", "X-Host", "evil.example"},
				who...); i < len(header); i += 2 {
				r.Header.Set(header[i], header[i+1])
			}
			rec := httptest.NewRecorder()
			c.router.ServeHTTP(rec, r)
			require.Less(t, rec.Code, 500, path)
			for name, values := range rec.Header() {
				assert.NotContains(t, strings.Join(values, " "), "evil", "%s: %s", path, name)
			}
			assert.NotContains(t, rec.Body.String(), "evil", path)
		}
	}
}

// TestServesItsOwnHostOnly: a page of a stranger's, whose name points to this machine, is told nothing; health is told
// to whoever asks, and HEAD answers as GET does, without a body.
func TestServesItsOwnHostOnly(t *testing.T) {
	db := smallDatabase(t)
	status := func(p *process, method, path, host string) (int, string) {
		r, err := http.NewRequestWithContext(t.Context(), method, "http://"+p.address+path, http.NoBody)
		require.NoError(t, err)
		r.Host = host
		res, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		body, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode, string(body)
	}
	for _, c := range []struct {
		host    string
		further []string
		want    int
	}{
		{"evil.example", nil, http.StatusMisdirectedRequest},
		{"kit.example.org:81", nil, http.StatusMisdirectedRequest},
		{"KIT.example.org", nil, http.StatusOK},
		{"also.example", []string{"--host", "also.example"}, http.StatusOK},
		{"evil.example", []string{"--host", "*"}, http.StatusOK},
	} {
		p := begin(t, servesLine, append([]string{"serve", "--db", db, "--listen", "127.0.0.1:0", "--base-url",
			"http://kit.example.org"}, c.further...)...)
		got, body := status(p, http.MethodGet, "/sign-in", c.host)
		assert.Equal(t, c.want, got, "%s %s", c.host, c.further)
		assert.Equal(t, c.want == http.StatusOK, strings.Contains(body, "<html"))
		got, _ = status(p, http.MethodGet, "/sign-in", p.address)
		assert.Equal(t, http.StatusOK, got, "its own address")
		got, body = status(p, http.MethodHead, "/sign-in", p.address)
		assert.Equal(t, http.StatusOK, got)
		assert.Empty(t, body)
		got, _ = status(p, http.MethodGet, "/healthz", c.host)
		assert.Equal(t, http.StatusOK, got)
		p.stop()
	}
}

// TestSessionFixation: a session that somebody planted in a browser, their own
// or a made-up one, is not the one that its user signs in with, and is worth
// nothing afterwards.
func TestSessionFixation(t *testing.T) {
	c := compose(t)
	c.session(inventory.Manager)
	attacker := c.enter("attacker", inventory.Crew, []string{"N1"})
	for _, planted := range []string{attacker, "made-up", strings.Repeat("A", 52)} {
		rec := c.form("/sign-in", &http.Cookie{Name: "__Host-stowkeeper_session", Value: planted},
			url.Values{"name": {"person manager"}, "secret": {"seven lamps at dusk"}})
		require.Equal(t, http.StatusSeeOther, rec.Code, rec.Body)
		cookies := rec.Result().Cookies()
		require.Len(t, cookies, 1)
		assert.NotEqual(t, planted, cookies[0].Value)
		assert.Contains(t, c.do(http.MethodGet, "/account", "", "Cookie", cookies[0].Name+"="+cookies[0].Value).Body.String(),
			"person manager")
		assert.Equal(t, http.StatusSeeOther, c.do(http.MethodGet, "/account", "", "Cookie", cookies[0].Name+"="+planted).Code,
			"what was planted lets nobody in")
		for _, path := range []string{"/account?__Host-stowkeeper_session=" + cookies[0].Value,
			"/account;__Host-stowkeeper_session=" + cookies[0].Value} {
			assert.NotEqual(t, http.StatusOK, c.do(http.MethodGet, path, "").Code, "a session comes by cookie alone")
		}
	}
}

// elsewhere are ways to write the address of somebody else's page so that a
// browser goes there.
var elsewhere = []string{"https://evil.example/", "//evil.example", "///evil.example", "////evil.example",
	"/\\evil.example", "\\\\evil.example", "\\/evil.example", "/\t/evil.example", "/%09/evil.example",
	"/%5Cevil.example", "/%2Fevil.example", "%2F%2Fevil.example", "javascript:alert(1)", "JaVaScRiPt:alert(1)",
	"java\nscript:alert(1)", "data:text/html,x", "https:evil.example",
	"http:/evil.example", "https:///evil.example", "/.//evil.example", "/..//evil.example", "/x/..//evil.example",
	"@evil.example", "//kit.example.org@evil.example", " //evil.example", "\x00//evil.example",
	"/\r\nLocation: //evil.example"}

// TestOpenRedirect: neither signing in nor any form leads to another place.
func TestOpenRedirect(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Administrator)
	cookie := session.Name + "=" + session.Value
	stays := func(rec *httptest.ResponseRecorder, what string) {
		t.Helper()
		require.Less(t, rec.Code, 500, what)
		to := rec.Header().Get("Location")
		if to == "" {
			return
		}
		base, _ := url.Parse("https://kit.example.org/x/y")
		// As browsers read it: blanks at the ends and tabs and line ends go, a
		// backslash is a slash (WHATWG URL, basic URL parser; from memory).
		u, err := base.Parse(strings.NewReplacer("\t", "", "\r", "", "\n", "", "\\", "/").Replace(strings.TrimSpace(to)))
		require.NoError(t, err, what)
		assert.Equal(t, "https://kit.example.org", u.Scheme+"://"+u.Host, "%s leads to %q", what, to)
		assert.False(t, strings.HasPrefix(u.Path, "//"), "%s leads to %q", what, to)
	}
	for _, to := range elsewhere {
		q := url.QueryEscape(to)
		stays(c.do(http.MethodGet, "/sign-in?next="+q, "", "Cookie", cookie), to)
		rec := c.form("/sign-in", nil, url.Values{"name": {"person administrator"}, "secret": {"seven lamps at dusk"},
			"next": {to}, "carry_to": {to}}, "Cookie", "__Host-stowkeeper_terminal="+c.tablet)
		stays(rec, to)
		if rec.Code == http.StatusOK { // the form that was carried through is offered to a page of the service
			for _, m := range regexp.MustCompile(`action="([^"]*)"`).FindAllStringSubmatch(rec.Body.String(), -1) {
				rec.Header().Set("Location", html.UnescapeString(m[1]))
				stays(rec, "form for "+to)
			}
		} else {
			require.Equal(t, http.StatusSeeOther, rec.Code, "%q", to)
		}
		stays(c.do(http.MethodGet, "/b?code="+q, "", "Cookie", cookie), to)
	}
	for _, d := range c.doors() { // whatever a form calls the way back
		if d.method != http.MethodPost || d.api || d.path == "/sign-out" {
			continue
		}
		path, _ := c.pathAt("N1", d.path)
		form, err := url.ParseQuery(c.at("N1").Replace(anyForm))
		require.NoError(t, err)
		for _, name := range []string{"next", "back", "return", "return_to", "url", "redirect", "carry_to", "to_page",
			"from_page", "done"} {
			form.Set(name, "//evil.example")
		}
		form.Set("key", d.path)
		undo := errors.New("undo")
		require.ErrorIs(t, c.svc.Ledger.Together(t.Context(), func(ctx context.Context) error {
			rec := c.doIn(ctx, d.method, path, form.Encode(), "Content-Type", "application/x-www-form-urlencoded",
				"Sec-Fetch-Site", "same-origin", "Cookie", cookie)
			stays(rec, d.path)
			assert.NotRegexp(t, `(href|action)="(https?:)?//evil`, rec.Body.String(), d.path)
			return undo
		}), undo)
	}
}

// TestPathTraversal asks every route with a parameter, and every choice of a
// file, for what lies outside.
func TestPathTraversal(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Administrator)
	cookie := session.Name + "=" + session.Value
	ask := func(path string) {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "https://kit.example.org"+path, nil)
		require.NoError(t, err, path)
		r.Header.Set("Cookie", cookie)
		rec := httptest.NewRecorder()
		c.router.ServeHTTP(rec, r)
		assert.Less(t, rec.Code, 500, path)
		assert.False(t, rec.Code == http.StatusOK && !strings.Contains(path, "?"), "%s is there", path)
		for _, inside := range []string{"module stowkeeper", "package web", "root:x:0", "go:embed"} {
			assert.NotContains(t, rec.Body.String(), inside, path)
		}
	}
	outside := []string{"../assets.go", "..%2fassets.go", "%2e%2e%2fassets.go", "%2e%2e/assets.go", "..%5cassets.go",
		"....//assets.go", "..;/assets.go", "%252e%252e%252fassets.go",
		"style.css%00.png", "%2fetc%2fpasswd", "..%c0%afassets.go", "modules%2fkeep.js",
		"..%2f..%2f..%2f..%2f..%2f..%2fetc%2fpasswd", "..%2f..%2fgo.mod"}
	for _, d := range c.doors() {
		own, _ := c.pathAt("N1", d.path)
		for i, part := range strings.Split(d.path, "/") {
			for _, name := range outside {
				if d.method == http.MethodGet && strings.HasPrefix(part, ":") {
					parts := strings.Split(own, "/")
					parts[i] = name
					ask(strings.Join(parts, "/"))
				}
			}
		}
	}
	for _, name := range outside {
		for _, q := range []string{"/labels/sheet.pdf?kind=bag&bag=KD7-442&sheet=", "/api/v1/labels.pdf?bag=KD7-442&sheet=",
			"/labels/calibration.pdf?sheet=", "/api/v1/labels/calibration.pdf?sheet=", "/labels?sheet="} {
			ask(q + name)
		}
	}
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	require.NoError(t, w.WriteField("kind", "items"))
	file, err := w.CreateFormFile("file", "../../../../outside-canary.csv")
	require.NoError(t, err)
	_, err = file.Write([]byte("code,name\n"))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	rec := c.do(http.MethodPost, "/imports", body.String(), "Content-Type", w.FormDataContentType(), "Sec-Fetch-Site",
		"same-origin", "Cookie", cookie)
	require.Equal(t, http.StatusSeeOther, rec.Code, rec.Body)
	rec = c.do(http.MethodGet, rec.Header().Get("Location"), "", "Cookie", cookie)
	require.Equal(t, http.StatusOK, rec.Code)
	assert.NotContains(t, rec.Body.String(), "canary", "a file's name is not used")
}

// TestNoSecretIsEchoed types a secret into every field of the ways in, and
// looks for it in what comes back and in the log.
func TestNoSecretIsEchoed(t *testing.T) {
	const canary = "canary-5531-wren"
	c := compose(t)
	var log bytes.Buffer
	p := &program{svc: c.svc, baseURL: "https://kit.example.org", log: slog.New(slog.NewTextHandler(&log,
		&slog.HandlerOptions{Level: slog.LevelDebug}))}
	h, err := p.handler()
	require.NoError(t, err)
	c.router = h.(*gin.Engine)
	admin := c.session(inventory.Administrator)
	quiet := func(what, body string) {
		t.Helper()
		assert.NotContains(t, body, canary, what)
		assert.NotContains(t, log.String(), canary, what)
	}
	for path, fields := range map[string][]string{
		"/sign-in": {"secret"}, "/account/secret": {"old", "secret", "again"}, "/people/new": {"secret"},
		"/people/1": {"secret"}, "/welcome/x": {"secret", "again"},
	} {
		values := url.Values{"name": {"x"}, "role": {"nothing"}}
		for _, f := range fields {
			values.Set(f, canary)
		}
		for _, session := range []*http.Cookie{admin, nil} {
			rec := c.form(path, session, values)
			quiet(path, rec.Body.String())
		}
	}
	rec := c.do(http.MethodGet, api.Base+"/tokens", "", "Authorization", "Bearer "+canary)
	quiet("token", rec.Body.String())
	_ = c.do(http.MethodGet, "/b/KD7-442?x="+canary, "", "Cookie", admin.Name+"="+canary)
	assert.NotContains(t, log.String(), canary)
	assert.NotEmpty(t, log.String())
}

// TestServeTLS serves by a certificate from files, and says that TLS is for good.
func TestServeTLS(t *testing.T) {
	cert, key := certificate(t)
	p := begin(t, regexp.MustCompile(`^Stowkeeper serves \S+ on (127\.0\.0\.1:\d+)$`), "serve", "--db", smallDatabase(t),
		"--listen", "127.0.0.1:0", "--tls-cert", cert, "--tls-key", key)
	// its own certificate
	client := http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	res, err := client.Get("https://" + p.address + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, "max-age=31536000; includeSubDomains", res.Header.Get("Strict-Transport-Security"))
	assert.Equal(t, "DENY", res.Header.Get("X-Frame-Options"))
	assert.Contains(t, p.printed.String(), "/welcome/", "there is no administrator yet")
	for _, weak := range []*tls.Config{{MaxVersion: tls.VersionTLS11}, {MaxVersion: tls.VersionTLS12,
		CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA}}} {
		weak.InsecureSkipVerify = true
		_, err := tls.Dial("tcp", p.address, weak)
		assert.Error(t, err)
	}
	p.stop()
	o := stowkeeper(t, "serve", "--db", smallDatabase(t), "--tls-cert", cert)
	assert.Contains(t, o.err, "--tls-key: set --tls-cert and --tls-key together")
}

// certificate writes a certificate for this machine and its key.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	about := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, about, about, &private.PublicKey, private)
	require.NoError(t, err)
	pkcs8, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: pkcs8}), 0o600))
	return cert, key
}
