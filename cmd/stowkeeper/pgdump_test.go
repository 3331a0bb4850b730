package main

import (
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/labels/labelstest"
)

// TestPostgresDump: what pg_dump took of a service comes back by pg_restore in an empty database, verifies, ends where
// it ended, and goes on.
func TestPostgresDump(t *testing.T) {
	dump, restore := labelstest.Tool(t, "pg_dump"), labelstest.Tool(t, "pg_restore")
	pg, again := storetest.Database(t, store.Postgres), storetest.Database(t, store.Postgres)
	succeed(t, "move", "--from", filled(t).file, "--to", pg)
	file := filepath.Join(t.TempDir(), "stowkeeper.dump")
	tool(t, dump, pg, "--format=custom", "--file="+file)
	tool(t, restore, "--no-owner", "--exit-on-error", "--dbname="+again, file)
	assert.Contains(t, succeed(t, "verify", "--db", again), " 0 faults")
	assert.Equal(t, succeed(t, "verify", "--db", pg, "--heads"), succeed(t, "verify", "--db", again, "--heads"))
	p := serve(t, again)
	newClient(t, p, newToken(t, again, "quartermaster", "keeper")).post("/receipts", fields{"place": "N1-STORE",
		"item": "GAUZE", "qty": 3})
	p.stop()
	assert.Contains(t, succeed(t, "verify", "--db", again), " 0 faults")
}

// TestPostgresBaseBackup: a base backup of the whole server, started as a server of its own, verifies.
func TestPostgresBaseBackup(t *testing.T) {
	basebackup := labelstest.Tool(t, "pg_basebackup")
	pg := storetest.Database(t, store.Postgres)
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/pg_ctl")
	require.NoError(t, err)
	if len(found) == 0 && os.Getenv("STOWKEEPER_NO_SKIP") != "1" {
		t.Skip("pg_ctl of PostgreSQL is not where Debian has it")
	}
	require.NotEmpty(t, found)
	server := found[len(found)-1]
	succeed(t, "move", "--from", smallDatabase(t), "--to", pg)
	folder, err := os.MkdirTemp("", "stowkeeper-base")
	require.NoError(t, err)
	data := filepath.Join(folder, "data")
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(folder)) })
	tool(t, basebackup, "--dbname="+os.Getenv(storetest.PostgresVariable), "--pgdata="+data, "--wal-method=stream",
		"--checkpoint=fast")
	as := []string{}
	if os.Getuid() == 0 { // PostgreSQL does not run as root
		tool(t, "chown", "-R", "postgres", folder)
		as = []string{"runuser", "-u", "postgres", "--"}
	}
	port := freePort(t)
	tool(t, append(as, server, "-D", data, "-w", "-l", filepath.Join(folder, "log"), "-o",
		"-c listen_addresses=127.0.0.1 -c unix_socket_directories='' -p "+port, "start")...)
	t.Cleanup(func() { tool(t, append(as, server, "-D", data, "-m", "immediate", "stop")...) })
	copied := withPort(t, pg, port)
	assert.Contains(t, succeed(t, "verify", "--db", copied), " 0 faults")
	assert.Equal(t, succeed(t, "verify", "--db", pg, "--heads"), succeed(t, "verify", "--db", copied, "--heads"))
}

func tool(t *testing.T, args ...string) {
	t.Helper()
	cmd := exec.Command(args[0], args[1:]...) //nolint:noctx // it also ends after the test
	cmd.Dir = "/"
	said, err := os.CreateTemp(t.TempDir(), "said") // a pipe would stay open for a server that it starts
	require.NoError(t, err)
	defer said.Close()
	cmd.Stdout, cmd.Stderr = said, said
	if err := cmd.Run(); err != nil {
		text, _ := os.ReadFile(said.Name())
		require.NoError(t, err, "%v: %s", args, text)
	}
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

func withPort(t *testing.T, address, port string) string {
	t.Helper()
	u, err := url.Parse(address)
	require.NoError(t, err)
	u.Host = net.JoinHostPort(u.Hostname(), port)
	return u.String()
}
