// Package migrations brings the schema up to date: its SQL texts, which are one set in the words of either engine.
package migrations

import (
	"archive/zip"
	"bytes"
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"text/template"

	"github.com/pressly/goose/v3"
)

// The engines' names.
const (
	SQLite   = "sqlite"
	Postgres = "postgres"
)

// Texts are the migrations as they are written.
//
//go:embed *.sql
var Texts embed.FS

// VersionTable is where goose keeps which migrations have run.
const VersionTable = "schema_version"

// Lock is the key of the advisory lock that PostgreSQL's copies of
// the program take in turn at start. It is "stowkeep" in ASCII.
const Lock = 0x73746f776b656570

// Run brings the schema up to this program's, whole or not at all, and refuses one that a newer program made. Of a
// SQLite file, which is empty for PostgreSQL, it keeps a copy beside it first, and tells where. pause waits before
// another try, whose number it is told.
func Run(ctx context.Context, db *sql.DB, engine, file string, log *slog.Logger, tell func(string),
	pause func(ctx context.Context, try int) error) error {
	if engine == Postgres {
		return together(ctx, db, log)
	}
	p, err := Provider(db, engine)
	if err != nil {
		return fmt.Errorf("prepare migrations: %w", err)
	}
	have, want, err := p.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema's version: %w", err)
	}
	if have > 0 && have < want {
		kept, err := keep(ctx, db, file, have)
		if err != nil {
			return err
		}
		tell(fmt.Sprintf("This program changes the database from schema %d to %d. As it was, it is kept in %s.", have,
			want, kept))
	}
	done, err := up(ctx, p, pause)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	if len(done) > 0 {
		migrated(ctx, log, len(done), done[len(done)-1].Source.Version)
	}
	if have, want, err = p.GetVersions(ctx); err != nil {
		return fmt.Errorf("read the schema's version: %w", err)
	}
	return known(have, want)
}

func migrated(ctx context.Context, log *slog.Logger, steps int, version int64) {
	log.InfoContext(ctx, "schema migrated", "steps", steps, "version", version)
}

// known refuses a schema that is newer than this program.
func known(have, want int64) error {
	if have > want {
		return fmt.Errorf("the database has schema version %d and this program knows %d: run the newer program", have, want)
	}
	return nil
}

const tries = 6

// up runs what is pending. SQLite has no lock that several programs could take in turn round all of it, so the one
// that comes second to a step fails in it, undone, and tries again what is left.
func up(ctx context.Context, p *goose.Provider, pause func(context.Context, int) error) (
	[]*goose.MigrationResult, error) {
	for try := 0; ; try++ {
		done, err := p.Up(ctx)
		if err == nil || try == tries {
			return done, err
		}
		if err := pause(ctx, try); err != nil {
			return nil, err
		}
	}
}

// Provider runs the migrations of an engine one by one.
func Provider(db *sql.DB, engine string) (*goose.Provider, error) {
	texts, err := Rendered(engine)
	if err != nil {
		return nil, err
	}
	dialect := map[string]goose.Dialect{SQLite: goose.DialectSQLite3, Postgres: goose.DialectPostgres}[engine]
	return goose.NewProvider(dialect, db, texts, goose.WithTableName(VersionTable), goose.WithDisableGlobalRegistry(true),
		goose.WithLogger(goose.NopLogger()))
}

// Rendered returns the migration texts in the words of one engine.
func Rendered(engine string) (fs.FS, error) {
	names, err := fs.Glob(Texts, "*.sql")
	if err != nil {
		return nil, err
	}
	// A zip archive in memory is a file system of the standard library.
	var archive bytes.Buffer
	z := zip.NewWriter(&archive)
	for _, name := range names {
		t, err := template.New("").Funcs(dialects[engine]).ParseFS(Texts, name)
		if err != nil {
			return nil, err
		}
		file, err := z.Create(path.Base(name))
		if err != nil {
			return nil, err
		}
		if err := t.ExecuteTemplate(file, path.Base(name), nil); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return zip.NewReader(bytes.NewReader(archive.Bytes()), int64(archive.Len()))
}

// dialects holds what the engines word differently. Columns that are given
// with their name may be NULL unless NOT NULL follows, truths apart.
var dialects = map[string]template.FuncMap{
	SQLite: {
		"id":         func() string { return "id INTEGER PRIMARY KEY" },
		"text":       func() string { return "TEXT" },
		"int":        func() string { return "INTEGER" },
		"blob":       func() string { return "BLOB" },
		"bool":       column("%s INTEGER NOT NULL CHECK (%[1]s IN (0, 1))"),
		"false":      func() string { return "0" },
		"json":       column("%s TEXT CHECK (json_valid(%[1]s))"),
		"jsonOrNull": column("%s TEXT CHECK (%[1]s IS NULL OR json_valid(%[1]s))"), // older ones call NULL invalid
		"day":        column("%s TEXT CHECK (%[1]s IS date(%[1]s))"),
		"instant": column("%s TEXT CHECK (%[1]s IS strftime('%%Y-%%m-%%dT%%H:%%M:%%S', %[1]s) || substr(%[1]s, 20) AND " +
			"substr(%[1]s, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z')"),
		"dayKey":    column("coalesce(%s, '')"),
		"sqlite":    func() bool { return true },
		"rekey":     inJSON(`replace(%[1]s, '"%[2]s":', '"%[3]s":')`),
		"revalue":   inJSON(`replace(%[1]s, '"%[2]s":"%[3]s"', '"%[2]s":"%[4]s"')`),
		"strict":    func() string { return " STRICT" },
		"clustered": func() string { return " STRICT, WITHOUT ROWID" },
	},
	Postgres: {
		"id": func() string { return "id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY" },
		// Codes sort by their bytes, as on SQLite.
		"text":       func() string { return `TEXT COLLATE "C"` },
		"int":        func() string { return "BIGINT" },
		"blob":       func() string { return "BYTEA" },
		"bool":       column("%s BOOLEAN NOT NULL"),
		"false":      func() string { return "FALSE" },
		"json":       column("%s JSONB"),
		"jsonOrNull": column("%s JSONB"),
		"day":        column("%s DATE"),
		"instant":    column("%s TIMESTAMPTZ"),
		"dayKey":     column("coalesce(%s, DATE '-infinity')"),
		"sqlite":     func() bool { return false },
		"rekey":      inJSON(`replace(%[1]s::text, '"%[2]s":', '"%[3]s":')::jsonb`),
		"revalue":    inJSON(`replace(%[1]s::text, '"%[2]s": "%[3]s"', '"%[2]s": "%[4]s"')::jsonb`),
		"strict":     func() string { return "" },
		"clustered":  func() string { return "" },
	},
}

func column(format string) func(string) string {
	return func(name string) string { return fmt.Sprintf(format, name) }
}

// inJSON renames a key of a column of JSON, or a value of one of its keys.
func inJSON(format string) func(...any) string {
	return func(names ...any) string { return fmt.Sprintf(format, names...) }
}
