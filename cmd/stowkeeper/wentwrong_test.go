package main

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/testdata/before"
)

// moveAway is what the README says to do with a database before another is put in its place.
func moveAway(t *testing.T, db string) {
	t.Helper()
	for _, beside := range []string{"", "-wal", "-shm", ".heads"} {
		if err := os.Rename(db+beside, db+".away"+beside); err != nil {
			require.ErrorIs(t, err, os.ErrNotExist)
		}
	}
}

// TestLostPhone: an administrator revokes the terminal that a phone is. Whoever was signed in on it is out at once,
// PINs do not work there any more, and on another one the same person goes on.
func TestLostPhone(t *testing.T) {
	db := smallDatabase(t)
	for name, args := range map[string][]string{"Ann": {"administrator", "seven lamps at dusk"},
		"Cy": {"crew", "4821"}} {
		add := []string{"person", "add", "--db", db, "--role", args[0], name}
		if name == "Cy" {
			add = append(add, "--station", "N1")
		}
		require.Zero(t, stowkeeperWith(t, args[1]+"\n", nil, add...).code)
	}
	lost := enrol(t, db, "N1")
	p := serve(t, db)
	on := signInOn(t, p, lost, "Cy", "4821")
	require.NotEmpty(t, on)
	asks := func(method, path, session string, form url.Values) int {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), method, "http://"+p.address+path,
			strings.NewReader(form.Encode()))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.AddCookie(&http.Cookie{Name: "stowkeeper_session", Value: session})
		r.AddCookie(&http.Cookie{Name: "stowkeeper_terminal", Value: lost})
		res, err := http.DefaultTransport.RoundTrip(r)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode
	}
	require.Equal(t, http.StatusOK, asks("GET", "/b/KD7-442", on, nil))
	ann := signIn(t, p, "Ann", "seven lamps at dusk")
	require.Equal(t, http.StatusSeeOther, asks("POST", "/terminals/1", ann, url.Values{"how": {"revoke"}}))
	assert.Equal(t, http.StatusSeeOther, asks("GET", "/b/KD7-442", on, nil), "it is asked to sign in")
	assert.Empty(t, signInOn(t, p, lost, "Cy", "4821"))
	p.stop()
	other := enrol(t, db, "N1")
	p = serve(t, db)
	assert.NotEmpty(t, signInOn(t, p, other, "Cy", "4821"))
}

// TestLostDisk: the newest backup goes into a place where nothing is, says what it lacks of heads that were kept, and
// the service goes on from there.
func TestLostDisk(t *testing.T) {
	db, folder := smallDatabase(t), t.TempDir()
	token := newToken(t, db, "quartermaster", "keeper")
	succeed(t, "backup", "--db", db, folder)
	p := serve(t, db)
	newClient(t, p, token).post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "qty": 3})
	p.stop()
	heads := filepath.Join(folder, "heads.txt")
	require.NoError(t, os.WriteFile(heads, []byte(succeed(t, "verify", "--db", db, "--heads")), 0o600))
	backups, err := filepath.Glob(filepath.Join(folder, "stowkeeper-*"))
	require.NoError(t, err)
	other := filepath.Join(t.TempDir(), "stowkeeper.db")
	said := succeed(t, "restore", "--db", other, "--since", heads, backups[0])
	assert.Contains(t, said, "not in it: 1 entries of chain N1")
	p = serve(t, other)
	newClient(t, p, token).post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "qty": 3})
	p.stop()
	succeed(t, "verify", "--db", other)
}

// TestStolenMachine: with a new password the old one opens nothing and who was signed in is out; a token that is
// revoked is none.
func TestStolenMachine(t *testing.T) {
	db := smallDatabase(t)
	secret := func(words, command string) {
		t.Helper()
		args := append([]string{"person", command, "--db", db}, "Ann")
		if command == "add" {
			args = append(args, "--role", "administrator")
		}
		require.Zero(t, stowkeeperWith(t, words+"\n", nil, args...).code)
	}
	secret("seven lamps at dusk", "add")
	token := newToken(t, db, "manager", "reader")
	p := serve(t, db)
	session := signIn(t, p, "Ann", "seven lamps at dusk")
	signedIn := func() bool {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+p.address+"/people", http.NoBody)
		require.NoError(t, err)
		r.AddCookie(&http.Cookie{Name: "stowkeeper_session", Value: session})
		res, err := http.DefaultTransport.RoundTrip(r)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode == http.StatusOK
	}
	asks := func() int {
		t.Helper()
		a, err := newClient(t, p, token).send("GET", "/api/v1/stations", nil)
		require.NoError(t, err)
		return a.status
	}
	require.True(t, signedIn())
	require.Equal(t, http.StatusOK, asks())
	secret("what runs out first", "set-password")
	succeed(t, "token", "revoke", "--db", db, "reader")
	assert.False(t, signedIn())
	assert.Empty(t, signIn(t, p, "Ann", "seven lamps at dusk"))
	assert.NotEmpty(t, signIn(t, p, "Ann", "what runs out first"))
	assert.Equal(t, http.StatusUnauthorized, asks())
}

// TestBadUpgrade: the file from before an update goes back into its place, as the README says it.
func TestBadUpgrade(t *testing.T) {
	db := before.Service(t)
	said := stowkeeper(t, "verify", "--db", db)
	require.Zero(t, said.code, said.err)
	kept := db + ".schema-13"
	assert.Contains(t, said.err, kept)
	moveAway(t, db)
	assert.Contains(t, succeed(t, "restore", "--db", db, kept), "0 faults")
	was, err := os.ReadFile(kept)
	require.NoError(t, err)
	is, err := os.ReadFile(db)
	require.NoError(t, err)
	assert.Equal(t, len(was), len(is), "as the older program left it")
}

// TestFailedPrinter: a bag is found by its code that somebody reads from it, and labels are printed elsewhere.
func TestFailedPrinter(t *testing.T) {
	db := smallDatabase(t)
	pdf := filepath.Join(t.TempDir(), "labels.pdf")
	succeed(t, "labels", "--db", db, "--base-url", "https://kit.example.org", "--sheet", "a4-3x7", "--out", pdf, "KD7-442")
	assert.FileExists(t, pdf)
	require.Zero(t, stowkeeperWith(t, "seven lamps at dusk\n", nil, "person", "add", "--db", db, "--role",
		"administrator", "Ann").code)
	p := serve(t, db)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+p.address+"/search?q=KD7-442", http.NoBody)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: "stowkeeper_session", Value: signIn(t, p, "Ann", "seven lamps at dusk")})
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer res.Body.Close()
	assert.True(t, strings.HasSuffix(res.Request.URL.Path, "KD7-442"), "%s", res.Request.URL)
}
