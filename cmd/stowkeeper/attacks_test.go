package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"net/http"
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
		text, err := c.svc.CreateToken(t.Context(), operator, inventory.Token{Name: fmt.Sprint(path, scope), Role: inventory.Administrator, Scope: scope})
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
	assert.Subset(t, sheets(inventory.ActKeepLists, inventory.ActKeepPeople, inventory.ActHistory), []string{"people", "movements", "items"})
	kept := sheets(inventory.ActKeepLists)
	assert.Contains(t, kept, "items")
	assert.NotContains(t, kept, "people")
	assert.NotContains(t, kept, "movements")
}

// TestForgedHost: what a request says of the host it was sent to leads nobody
// away, and stands in no link.
func TestForgedHost(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Quartermaster)
	cookie := session.Name + "=" + session.Value
	for _, path := range []string{"/", "/sign-in?next=https://evil.example/", "/sign-in?next=//evil.example", "/sign-in?next=/%5Cevil.example", "/board", "/b/KD7-442", "/labels/sheet.svg?bag=KD7-442"} {
		r := c.do(http.MethodGet, path, "", "Cookie", cookie, "X-Forwarded-Host", "evil.example")
		assert.NotContains(t, r.Header().Get("Location"), "evil", path)
		assert.NotContains(t, r.Body.String(), "evil.example", path)
	}
	rec := c.form("/sign-in", nil, url.Values{"name": {"person quartermaster"}, "secret": {"seven lamps at dusk"}, "next": {"https://evil.example/"}})
	assert.Equal(t, "/", rec.Header().Get("Location"))
}

// TestMassAssignment: a form about oneself, or a body, that says more than it
// may changes nothing more.
func TestMassAssignment(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Manager)
	rec := c.form("/account/secret", session, url.Values{"old": {"seven lamps at dusk"}, "secret": {"eight boats at noon"}, "again": {"eight boats at noon"},
		"role": {"administrator"}, "sites": {"N1", "S2"}, "disabled": {"no"}, "id": {"1"}})
	require.Equal(t, http.StatusSeeOther, rec.Code, rec.Body)
	people, err := c.svc.People(t.Context(), operator)
	require.NoError(t, err)
	require.Len(t, people, 1)
	assert.Equal(t, inventory.Manager, people[0].Role)
	assert.Equal(t, []string{"N1"}, people[0].Sites)
	rec = c.do(http.MethodPost, api.Base+"/tokens", `{"name":"x","role":"administrator"}`, "Authorization", "Bearer "+c.token(inventory.Quartermaster), "Content-Type", "application/json")
	assert.Equal(t, http.StatusForbidden, rec.Code)
}

// TestNoSecretIsEchoed types a secret into every field of the ways in, and
// looks for it in what comes back and in the log.
func TestNoSecretIsEchoed(t *testing.T) {
	const canary = "canary-5531-wren"
	c := compose(t)
	var log bytes.Buffer
	p := &program{svc: c.svc, baseURL: "https://kit.example.org", log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))}
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
		"/sign-in": {"secret"}, "/account/secret": {"old", "secret", "again"}, "/people/new": {"secret"}, "/people/1": {"secret"}, "/welcome/x": {"secret", "again"},
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
	p := begin(t, regexp.MustCompile(`^Stowkeeper serves \S+ on (127\.0\.0\.1:\d+)$`), "serve", "--db", smallDatabase(t), "--listen", "127.0.0.1:0", "--tls-cert", cert, "--tls-key", key)
	client := http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} // its own certificate
	res, err := client.Get("https://" + p.address + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, "max-age=31536000; includeSubDomains", res.Header.Get("Strict-Transport-Security"))
	assert.Equal(t, "DENY", res.Header.Get("X-Frame-Options"))
	assert.Contains(t, p.printed.String(), "/welcome/", "there is no administrator yet")
	for _, weak := range []*tls.Config{{MaxVersion: tls.VersionTLS11}, {MaxVersion: tls.VersionTLS12, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA}}} {
		weak.InsecureSkipVerify = true
		_, err := tls.Dial("tcp", p.address, weak)
		assert.Error(t, err)
	}
	p.stop()
	o := stowkeeper(t, "serve", "--db", smallDatabase(t), "--tls-cert", cert)
	assert.Contains(t, o.err, "tls-key: give certificate and key together")
}

// certificate writes a certificate for this machine and its key.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	about := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
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
