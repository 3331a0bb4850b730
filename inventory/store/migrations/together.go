package migrations

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"log/slog"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
)

// together runs all that is pending on PostgreSQL in one transaction, while other copies of the program wait: goose has
// one for each step. A text without arguments may hold many statements there.
func together(ctx context.Context, db *sql.DB, log *slog.Logger) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	if _, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock($1)", int64(Lock)); err != nil {
		return fmt.Errorf("wait for others who migrate: %w", err)
	}
	versions, have, err := versionIn(ctx, tx)
	if err != nil {
		return fmt.Errorf("read the schema's version: %w", err)
	}
	texts, err := Rendered(Postgres)
	if err != nil {
		return err
	}
	names, err := fs.Glob(texts, "*.sql")
	steps, want := 0, int64(0)
	for _, name := range names {
		if want, err = goose.NumericComponent(name); err != nil || want <= have {
			continue
		}
		text, err := fs.ReadFile(texts, name)
		if err == nil {
			_, err = tx.ExecContext(ctx, string(text))
		}
		if err == nil {
			err = versions.Insert(ctx, tx, database.InsertRequest{Version: want})
		}
		if err != nil {
			return fmt.Errorf("the database cannot be brought up to date, nothing was changed: %s: %w", name, err)
		}
		steps++
	}
	if err != nil {
		return err
	}
	if steps == 0 {
		return known(have, want)
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	migrated(ctx, log, steps, want)
	return nil
}

// versionIn returns goose's table of what has run, made where there is none, and the newest.
func versionIn(ctx context.Context, tx *sql.Tx) (database.Store, int64, error) {
	versions, err := database.NewStore(database.DialectPostgres, VersionTable)
	if err != nil {
		return nil, 0, err
	}
	var there bool
	err = tx.QueryRowContext(ctx, "SELECT to_regclass($1) IS NOT NULL", VersionTable).Scan(&there)
	if err == nil && !there {
		if err = versions.CreateVersionTable(ctx, tx); err == nil {
			err = versions.Insert(ctx, tx, database.InsertRequest{Version: 0})
		}
	}
	if err != nil {
		return nil, 0, err
	}
	have, err := versions.GetLatestVersion(ctx, tx)
	return versions, have, err
}
