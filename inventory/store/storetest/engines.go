// Package storetest holds the promises of inventory.Store as tests, and opens stores for the tests of other packages:
// a SQLite file in a temporary folder is the ordinary test double, there is no mock.
package storetest

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
)

// PostgresVariable names the environment variable that holds the address of a
// PostgreSQL server on which the user may create databases.
const PostgresVariable = "STOWKEEPER_TEST_POSTGRES"

// Database returns the file name or address of an empty database of an engine that ends with the test. Where there is
// no PostgreSQL server the test is skipped, or fails if STOWKEEPER_NO_SKIP is 1.
func Database(t testing.TB, engine string) string {
	t.Helper()
	if engine == store.SQLite {
		return filepath.Join(t.TempDir(), "stowkeeper.db")
	}
	server := os.Getenv(PostgresVariable)
	if server == "" {
		if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
			t.Fatalf("set %s to the address of a PostgreSQL server", PostgresVariable)
		}
		t.Skipf("%s is not set, so there is no PostgreSQL to test on", PostgresVariable)
	}
	return freshPostgres(t, server, "template0")
}

// Empty returns the file name or address of a database with the schema and nothing in it. Most tests need one, and to
// migrate takes five times as long as to copy.
func Empty(t testing.TB, engine string) string {
	t.Helper()
	if engine == store.SQLite {
		return emptyFile(t)
	}
	server := os.Getenv(PostgresVariable)
	if server == "" {
		return Database(t, engine) // which says why not
	}
	name, err := emptyPostgres()
	require.NoError(t, err)
	return freshPostgres(t, server, name)
}

// emptyPostgres names a database that others are copied from, made by who first needs it. It stays on the server, for
// the next run of any package, until the migrations are others.
var emptyPostgres = sync.OnceValues(func() (name string, err error) {
	texts := sha256.New()
	if err := fs.WalkDir(migrations.Texts, ".", func(path string, _ fs.DirEntry, err error) error {
		text, _ := migrations.Texts.ReadFile(path) // of a folder there is none
		texts.Write(text)
		return err
	}); err != nil {
		return "", err
	}
	name = fmt.Sprintf("stowkeeper_empty_%x", texts.Sum(nil)[:8])
	ctx, server := context.Background(), os.Getenv(PostgresVariable)
	admin, err := sql.Open("pgx", server)
	if err != nil {
		return "", err
	}
	defer admin.Close()
	admin.SetMaxOpenConns(1) // which holds the lock
	if _, err = admin.ExecContext(ctx, "SELECT pg_advisory_lock(20261201)"); err != nil {
		return "", err
	}
	var made int
	err = admin.QueryRowContext(ctx, "SELECT count(*) FROM pg_database WHERE datname = $1", name).Scan(&made)
	if err != nil || made == 1 {
		return name, err
	}
	half := name + "_half"
	for _, sql := range []string{"DROP DATABASE IF EXISTS " + half, "CREATE DATABASE " + half + " TEMPLATE template0"} {
		if _, err := admin.ExecContext(ctx, sql); err != nil {
			return "", err
		}
	}
	address, err := addressOf(server, half)
	if err != nil {
		return "", err
	}
	s, err := store.Open(ctx, address, quiet())
	if err != nil {
		return "", err
	}
	if err := s.Close(); err != nil {
		return "", err
	}
	_, err = admin.ExecContext(ctx, "ALTER DATABASE "+half+" RENAME TO "+name)
	return name, err
})

func addressOf(server, database string) (string, error) {
	u, err := url.Parse(server)
	if err != nil {
		return "", err
	}
	u.Path = "/" + database
	return u.String(), nil
}

var databases atomic.Int64

// freshPostgres copies a database of the server and drops the copy after the test.
func freshPostgres(t testing.TB, server, of string) string {
	t.Helper()
	admin, err := sql.Open("pgx", server)
	require.NoError(t, err)
	name := fmt.Sprintf("stowkeeper_test_%d_%d", os.Getpid(), databases.Add(1))
	_, err = admin.ExecContext(t.Context(), "CREATE DATABASE "+name+" TEMPLATE "+of)
	require.NoError(t, err)
	t.Cleanup(func() {
		_, err := admin.ExecContext(context.Background(), "DROP DATABASE "+name+" WITH (FORCE)")
		require.NoError(t, err)
		require.NoError(t, admin.Close())
	})
	address, err := addressOf(server, name)
	require.NoError(t, err)
	return address
}

// Open opens a store that is closed when the test ends.
func Open(t testing.TB, db string) inventory.Store {
	t.Helper()
	return openWith(t, db, quiet())
}

func openWith(t testing.TB, db string, o store.Options) inventory.Store {
	t.Helper()
	s, err := store.Open(t.Context(), db, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func quiet() store.Options {
	return store.Options{Logger: slog.New(slog.NewTextHandler(io.Discard, nil))}
}

// empty is a SQLite file with the schema and nothing in it, made once.
var empty = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "stowkeeper")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "empty.db")
	s, err := store.Open(context.Background(), file, quiet())
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(file)
})

// OpenSQLite opens an empty store on a file.
func OpenSQLite(t testing.TB) inventory.Store {
	t.Helper()
	return Open(t, emptyFile(t))
}

// OpenCounting opens an empty store on a file that counts what it is asked.
func OpenCounting(t testing.TB) inventory.Store {
	t.Helper()
	o := quiet()
	o.SQLiteDriver = Counting(t)
	return openWith(t, emptyFile(t), o)
}

func emptyFile(t testing.TB) string {
	t.Helper()
	b, err := empty()
	require.NoError(t, err)
	file := Database(t, store.SQLite)
	require.NoError(t, os.WriteFile(file, b, 0o600))
	return file
}

// OpenEmpty opens an empty store on an engine.
func OpenEmpty(t testing.TB, engine string) inventory.Store {
	t.Helper()
	return Open(t, Empty(t, engine))
}

// Engines runs a subtest with an empty store on each engine.
func Engines(t *testing.T, test func(t *testing.T, s inventory.Store)) {
	t.Helper()
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) { test(t, OpenEmpty(t, engine)) })
	}
}
