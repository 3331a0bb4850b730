package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"
	"strings"
	"testing/fstest"
	"text/template"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed migrations/*.sql
var migrationTexts embed.FS

// versionTable is where goose keeps which migrations have run.
const versionTable = "schema_version"

// migrationLock is the key of the advisory lock that PostgreSQL's copies of
// the program take in turn at start. It is "stowkeep" in ASCII.
const migrationLock = 0x73746f776b656570

// migrate brings the schema up to this program's, and refuses a schema that a
// newer program made.
func migrate(ctx context.Context, db *sql.DB, engine string, log *slog.Logger) error {
	p, err := migrations(db, engine)
	if err != nil {
		return fmt.Errorf("prepare migrations: %w", err)
	}
	done, err := p.Up(ctx)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	if len(done) > 0 {
		log.InfoContext(ctx, "schema migrated", "steps", len(done), "version", done[len(done)-1].Source.Version)
	}
	have, want, err := p.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema's version: %w", err)
	}
	if have > want {
		return fmt.Errorf("the database has schema version %d and this program knows %d: run the newer program", have, want)
	}
	return nil
}

func migrations(db *sql.DB, engine string) (*goose.Provider, error) {
	texts, err := renderMigrations(engine)
	if err != nil {
		return nil, err
	}
	opts := []goose.ProviderOption{
		goose.WithTableName(versionTable), goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()),
	}
	if engine == SQLite {
		return goose.NewProvider(goose.DialectSQLite3, db, texts, opts...)
	}
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockID(migrationLock), lock.WithLockTimeout(1, 300))
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectPostgres, db, texts, append(opts, goose.WithSessionLocker(locker))...)
}

// renderMigrations returns the migration texts in the words of one engine.
func renderMigrations(engine string) (fs.FS, error) {
	names, err := fs.Glob(migrationTexts, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	out := fstest.MapFS{}
	for _, name := range names {
		t, err := template.New("").Funcs(dialects[engine]).ParseFS(migrationTexts, name)
		if err != nil {
			return nil, err
		}
		var b strings.Builder
		if err := t.ExecuteTemplate(&b, strings.TrimPrefix(name, "migrations/"), nil); err != nil {
			return nil, err
		}
		out[strings.TrimPrefix(name, "migrations/")] = &fstest.MapFile{Data: []byte(b.String())}
	}
	return out, nil
}

// dialects holds what the engines word differently. Columns that are given
// with their name may be NULL unless NOT NULL follows, truths apart.
var dialects = map[string]template.FuncMap{
	SQLite: {
		"id":        func() string { return "id INTEGER PRIMARY KEY" },
		"text":      func() string { return "TEXT" },
		"int":       func() string { return "INTEGER" },
		"blob":      func() string { return "BLOB" },
		"bool":      column("%s INTEGER NOT NULL CHECK (%[1]s IN (0, 1))"),
		"json":      column("%s TEXT CHECK (json_valid(%[1]s))"),
		"day":       column("%s TEXT CHECK (%[1]s = date(%[1]s))"),
		"instant":   column("%s TEXT CHECK (%[1]s = strftime('%%Y-%%m-%%dT%%H:%%M:%%S', %[1]s) || substr(%[1]s, 20) AND %[1]s GLOB '*.[0-9][0-9][0-9][0-9][0-9][0-9]Z' AND length(%[1]s) = 27)"),
		"dayKey":    column("coalesce(%s, '')"),
		"strict":    func() string { return " STRICT" },
		"clustered": func() string { return " STRICT, WITHOUT ROWID" },
	},
	Postgres: {
		"id": func() string { return "id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY" },
		// Codes sort by their bytes, as on SQLite.
		"text":      func() string { return `TEXT COLLATE "C"` },
		"int":       func() string { return "BIGINT" },
		"blob":      func() string { return "BYTEA" },
		"bool":      column("%s BOOLEAN NOT NULL"),
		"json":      column("%s JSONB"),
		"day":       column("%s DATE"),
		"instant":   column("%s TIMESTAMPTZ"),
		"dayKey":    column("coalesce(%s, DATE '-infinity')"),
		"strict":    func() string { return "" },
		"clustered": func() string { return "" },
	},
}

func column(format string) func(string) string {
	return func(name string) string { return fmt.Sprintf(format, name) }
}
