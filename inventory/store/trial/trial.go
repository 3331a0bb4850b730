// Package trial lets something be written to see what would come of it, where nobody else sees it or waits for it: it
// only reads the database.
package trial

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	"stowkeeper/inventory/store/sqlitefile"
)

// Begin begins a transaction on a copy of all that a pool's database holds at one moment. It is only to be rolled
// back; end then throws the copy away. A SQLite file is copied into the folder for temporary files, a PostgreSQL
// database into temporary tables, which stand before those of the same name.
func Begin(ctx context.Context, pool *sql.DB, sqliteDriver string) (tx *sql.Tx, end func() error, err error) {
	if sqliteDriver == "" {
		tx, err = pool.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead})
		if err != nil {
			return nil, nil, err
		}
		if err := shadow(ctx, tx); err != nil {
			return nil, nil, errors.Join(fmt.Errorf("copy the tables: %w", err), tx.Rollback())
		}
		return tx, func() error { return nil }, nil
	}
	folder, err := os.MkdirTemp("", "stowkeeper-trial-*")
	if err != nil {
		return nil, nil, err
	}
	var copied *sql.DB
	end = func() error {
		if copied != nil {
			err = copied.Close()
		}
		return errors.Join(err, os.RemoveAll(folder))
	}
	fail := func(err error) (*sql.Tx, func() error, error) {
		return nil, nil, errors.Join(fmt.Errorf("copy the file: %w", err), end())
	}
	file := filepath.Join(folder, "copy")
	if err := sqlitefile.CopyTo(ctx, pool, file); err != nil {
		return fail(err)
	}
	if err := os.Chmod(file, 0o600); err != nil {
		return fail(err)
	}
	copied, err = sql.Open(sqliteDriver, "file:"+(&url.URL{Path: filepath.ToSlash(file)}).EscapedPath()+
		"?_pragma=foreign_keys(1)&_pragma=synchronous(OFF)")
	if err != nil {
		return fail(err)
	}
	if tx, err = copied.BeginTx(ctx, nil); err != nil {
		return fail(err)
	}
	return tx, end, nil
}

// shadow makes temporary tables like all tables, with what these hold and what they demand, save for the numbers that
// they give, which go on behind the highest.
func shadow(ctx context.Context, tx *sql.Tx) error {
	tables, err := texts(ctx, tx, `SELECT quote_ident(relname) FROM pg_class WHERE relkind = 'r'
AND relnamespace = current_schema()::regnamespace ORDER BY 1`)
	if err != nil {
		return err
	}
	// Read while the tables are not hidden yet: their definitions then name each other without the schema.
	references, err := texts(ctx, tx, `SELECT 'ALTER TABLE pg_temp.' || quote_ident(r.relname) || ' ADD ' ||
pg_get_constraintdef(c.oid) FROM pg_constraint c JOIN pg_class r ON r.oid = c.conrelid
WHERE c.contype = 'f' AND c.connamespace = current_schema()::regnamespace ORDER BY c.oid`)
	if err != nil {
		return err
	}
	numbered, err := texts(ctx, tx, `SELECT format('SELECT setval(pg_get_serial_sequence(''pg_temp.%1$I'', ''%2$I''),
coalesce(max(%2$I), 0) + 1, false) FROM pg_temp.%1$I', r.relname, a.attname) FROM pg_attribute a
JOIN pg_class r ON r.oid = a.attrelid WHERE r.relkind = 'r' AND a.attidentity <> ''
AND r.relnamespace = current_schema()::regnamespace`)
	if err != nil {
		return err
	}
	var schema string
	if err := tx.QueryRowContext(ctx, "SELECT quote_ident(current_schema())").Scan(&schema); err != nil {
		return err
	}
	var all []string
	for _, t := range tables {
		all = append(all, "CREATE TEMPORARY TABLE "+t+" (LIKE "+schema+"."+t+" INCLUDING ALL) ON COMMIT DROP",
			"INSERT INTO pg_temp."+t+" OVERRIDING SYSTEM VALUE SELECT * FROM "+schema+"."+t)
	}
	for _, statement := range append(append(all, references...), numbered...) {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	return nil
}

func texts(ctx context.Context, tx *sql.Tx, query string) ([]string, error) {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, err
		}
		out = append(out, text)
	}
	return out, rows.Err()
}
