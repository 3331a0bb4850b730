package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// certificateUntil writes a certificate that ends at a time.
func certificateUntil(t *testing.T, end time.Time) string {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	c := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: end.AddDate(-1, 0, 0), NotAfter: end}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "cert.pem")
	require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	return file
}

// TestDoctor: a service that is well gets an ok on each line; then one thing at a time is wrong, is named with what to
// do, and the command ends with 1.
func TestDoctor(t *testing.T) {
	answer := "ok\n"
	labels := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		assert.Equal(t, "/healthz", r.URL.Path)
		_, _ = w.Write([]byte(answer))
	}))
	defer labels.Close()
	db, folder := smallDatabase(t), t.TempDir()
	succeed(t, "backup", "--db", db, folder)
	good := certificateUntil(t, time.Now().AddDate(1, 0, 0))
	args := []string{"doctor", "--db", db, "--base-url", labels.URL, "--tls-cert", good, "--backup-folder", folder}
	said := succeed(t, args...)
	for _, looked := range []string{"version", "file", "permissions", "integrity", "free space", "backup", "database",
		"clock", "records", "certificate", "address"} {
		assert.Regexp(t, `(?m)^ok +`+looked+` `, said)
	}
	wrong := func(looked, do string, args ...string) {
		t.Helper()
		o := stowkeeper(t, args...)
		assert.Equal(t, 1, o.code, looked)
		assert.Regexp(t, `(?m)^WRONG +`+looked+` .*`+do, o.out)
		assert.Contains(t, o.err, " are wrong: see above", looked)
	}
	with := func(flag, value string) []string {
		out := append([]string{}, args...)
		for i, a := range out {
			if a == flag {
				out[i+1] = value
			}
		}
		return out
	}
	require.NoError(t, os.Chmod(db, 0o644))
	wrong("permissions", "chmod 600", args...)
	require.NoError(t, os.Chmod(db, 0o600))
	wrong("certificate", "renew it", with("--tls-cert", certificateUntil(t, time.Now().AddDate(0, 0, 5)))...)
	wrong("certificate", "choose a PEM file", with("--tls-cert", db)...)
	wrong("backup", "there is none", with("--backup-folder", t.TempDir())...)
	old := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(old, backup{}.name(clock().Time().Add(-5*time.Hour))), nil, 0o600))
	wrong("backup", "the newest is of", with("--backup-folder", old)...)
	wrong("address", "start the service", with("--base-url", "http://127.0.0.1:1")...)
	answer = "another program"
	wrong("address", "which is not this program", args...)
	answer = "ok\n"
	wrong("file", "no such file", with("--db", db+"x")...)

	plain := openPlainly(t, db)
	exec := func(text string) {
		t.Helper()
		_, err := plain.Exec(text)
		require.NoError(t, err)
	}
	exec("UPDATE station SET name = 'Elsewhere' WHERE code = 'S2'")
	wrong("records", "see stowkeeper verify", args...)
	exec("UPDATE history_entry SET recorded_at = '2999-01-01T00:00:00.000000Z' WHERE id = 3")
	wrong("clock", "the newest record is of 2999", args...)
	require.NoError(t, plain.Close())

	damaged := damage(t, db)
	wrong("integrity", "restore the newest backup", with("--db", damaged)...)
	if postgres := os.Getenv(storetest.PostgresVariable); postgres != "" {
		assert.Contains(t, succeed(t, "doctor", "--db", storetest.Database(t, store.Postgres)), "postgres answers")
	}
}

// damage copies a database and overwrites pages in its middle.
func damage(t *testing.T, db string) string {
	t.Helper()
	copied := filepath.Join(t.TempDir(), "damaged.db")
	require.NoError(t, vacuumInto(t.Context(), db, copied))
	text, err := os.ReadFile(copied)
	require.NoError(t, err)
	const page = 4096
	for p := 20; p < 24; p++ {
		copy(text[p*page:], strings.Repeat("\xa5", page))
	}
	require.NoError(t, os.WriteFile(copied, text, 0o600))
	return copied
}

// TestCommandLineMindsTheClock: while the clock is a day behind the newest record nothing is written from the command
// line, as the service refuses it; what only reads goes on, and so does the way in for who has to say which is right.
func TestCommandLineMindsTheClock(t *testing.T) {
	db := smallDatabase(t)
	require.Zero(t, stowkeeperWith(t, "seven lamps at dusk\n", nil, "person", "add", "--db", db, "--role",
		"administrator", "Ann").code)
	newToken(t, db, "manager", "reader")
	plain := openPlainly(t, db)
	defer plain.Close()
	_, err := plain.Exec("UPDATE history_entry SET recorded_at = '2999-01-01T00:00:00.000000Z' WHERE id = 3")
	require.NoError(t, err)
	stock := openingRows(t, 5, 5, 0)
	for _, line := range []string{"person add --db DB --role crew --station N1 Ben", "person disable --db DB Ann",
		"person enable --db DB Ann", "token create --db DB --role manager --name next", "token revoke --db DB reader",
		"import --db DB stock " + stock} {
		o := stowkeeperWith(t, "4821\n", nil, strings.Fields(strings.ReplaceAll(line, "DB", db))...)
		assert.Equal(t, 1, o.code, line)
		assert.Contains(t, o.err, "an administrator must say which is right", line)
	}
	for _, line := range []string{"person list --db DB", "token list --db DB", "import --db DB --dry-run stock " + stock,
		"verify --db DB --heads"} {
		succeed(t, strings.Fields(strings.ReplaceAll(line, "DB", db))...)
	}
	o := stowkeeperWith(t, "what runs out first\n", nil, "person", "set-password", "--db", db, "Ann")
	assert.Zero(t, o.code, o.err)
}
