// Package storetest holds the promises of inventory.Store as tests, and opens stores for the tests of other packages:
// a SQLite file in a temporary folder is the ordinary test double, there is no mock.
package storetest

import (
	"context"
	"database/sql"
	"fmt"
	"io"
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
	return freshPostgres(t, server)
}

var databases atomic.Int64

// freshPostgres makes a database on the server and drops it after the test.
func freshPostgres(t testing.TB, server string) string {
	t.Helper()
	admin, err := sql.Open("pgx", server)
	require.NoError(t, err)
	name := fmt.Sprintf("stowkeeper_test_%d_%d", os.Getpid(), databases.Add(1))
	_, err = admin.ExecContext(t.Context(), "CREATE DATABASE "+name+" TEMPLATE template0")
	require.NoError(t, err)
	t.Cleanup(func() {
		_, err := admin.ExecContext(context.Background(), "DROP DATABASE "+name+" WITH (FORCE)")
		require.NoError(t, err)
		require.NoError(t, admin.Close())
	})
	address, err := url.Parse(server)
	require.NoError(t, err)
	address.Path = "/" + name
	return address.String()
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

// empty is a SQLite file with the schema and nothing in it. It is made once:
// most tests need one, and to migrate takes five times as long as to copy.
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
	if engine == store.SQLite {
		return OpenSQLite(t)
	}
	return Open(t, Database(t, engine))
}

// Engines runs a subtest with an empty store on each engine.
func Engines(t *testing.T, test func(t *testing.T, s inventory.Store)) {
	t.Helper()
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) { test(t, OpenEmpty(t, engine)) })
	}
}
