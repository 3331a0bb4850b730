package whole

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"stowkeeper/inventory/store/migrations"
)

// LeftOut are the tables that stay where they are, with the reason.
var LeftOut = map[string]string{
	migrations.VersionTable: "the header has the schema's version", "session": "people sign in again",
	"kept": "bags are judged again",
}

// What a column holds, whichever engine's type that is.
const (
	integer  = "integer"
	text     = "text"
	truth    = "truth"
	document = "document" // JSON
	day      = "day"
	instant  = "instant"
	bytes    = "bytes"
)

// table is a table as the database's own catalogue has it.
type table struct {
	Name    string   `json:"table"`
	Columns []string `json:"columns"` // by name
	Kinds   []string `json:"kinds"`
	key     []string
	to      []reference
	counter string // the column that the engine numbers by itself
}

// reference is a foreign key.
type reference struct{ name, table string }

// engine is how one engine tells of its tables.
type engine struct{ columns, references string }

// The queries give table, column, kind, place in the key (0 for none) and whether the engine numbers it; and table,
// name of the foreign key and table that it refers to.
var engines = map[string]engine{
	migrations.SQLite: {`SELECT m.name, c.name, CASE
    WHEN instr(m.sql, 'json_valid(' || c.name || ')') > 0 THEN 'document'
    WHEN instr(m.sql, c.name || ' IS date(' || c.name || ')') > 0 THEN 'day'
    WHEN instr(m.sql, '(' || c.name || ' IS strftime(') > 0 THEN 'instant'
    WHEN instr(m.sql, '(' || c.name || ' IN (0, 1))') > 0 THEN 'truth'
    WHEN c.type = 'INTEGER' THEN 'integer' WHEN c.type = 'BLOB' THEN 'bytes' ELSE 'text' END, c.pk, 0
FROM sqlite_schema m JOIN pragma_table_info(m.name) c
WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY m.name, c.name`,
		`SELECT m.name, '', f."table" FROM sqlite_schema m JOIN pragma_foreign_key_list(m.name) f
WHERE m.type = 'table' ORDER BY 1, 3`},
	migrations.Postgres: {`SELECT c.relname, a.attname, CASE format_type(a.atttypid, NULL) WHEN 'jsonb' THEN 'document'
    WHEN 'date' THEN 'day' WHEN 'timestamp with time zone' THEN 'instant' WHEN 'boolean' THEN 'truth'
    WHEN 'bytea' THEN 'bytes' WHEN 'bigint' THEN 'integer' WHEN 'integer' THEN 'integer' ELSE 'text' END,
    coalesce(array_position(string_to_array(i.indkey::text, ' ')::int[], a.attnum::int), 0),
    (a.attidentity <> '')::int
FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
LEFT JOIN pg_index i ON i.indrelid = c.oid AND i.indisprimary
WHERE c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace
ORDER BY c.relname COLLATE "C", a.attname COLLATE "C"`,
		`SELECT c.relname, k.conname, f.relname FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
JOIN pg_class f ON f.oid = k.confrelid
WHERE k.contype = 'f' AND c.relnamespace = current_schema()::regnamespace ORDER BY 1, 3, 2`},
}

// tables reads the catalogue: what others refer to comes first.
func tables(ctx context.Context, tx *sql.Tx, of string) ([]*table, error) {
	byName := map[string]*table{}
	var all []*table
	err := each(ctx, tx, engines[of].columns, func(rows *sql.Rows) error {
		var name, column, kind string
		var key, counts int
		err := rows.Scan(&name, &column, &kind, &key, &counts)
		if LeftOut[name] != "" || err != nil {
			return err
		}
		t := byName[name]
		if t == nil {
			t = &table{Name: name}
			byName[name], all = t, append(all, t)
		}
		t.Columns, t.Kinds = append(t.Columns, column), append(t.Kinds, kind)
		if key > 0 {
			t.key = append(t.key, make([]string, max(0, key-len(t.key)))...)
			t.key[key-1] = column
		}
		if counts > 0 {
			t.counter = column
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read the columns: %w", err)
	}
	err = each(ctx, tx, engines[of].references, func(rows *sql.Rows) error {
		var name string
		var to reference
		err := rows.Scan(&name, &to.name, &to.table)
		if t := byName[name]; t != nil {
			t.to = append(t.to, to)
		}
		return err
	})
	return ordered(all), err
}

// ordered puts tables after those that they refer to; a circle goes by name.
func ordered(all []*table) (out []*table) {
	done := map[string]bool{}
	waits := func(t *table) bool {
		return done[t.Name] || slices.ContainsFunc(t.to, func(r reference) bool {
			return r.table != t.Name && !done[r.table]
		})
	}
	for len(out) < len(all) {
		next := slices.IndexFunc(all, func(t *table) bool { return !waits(t) })
		if next < 0 {
			next = slices.IndexFunc(all, func(t *table) bool { return !done[t.Name] })
		}
		out = append(out, all[next])
		done[all[next].Name] = true
	}
	return out
}

// backward are the foreign keys of tables in an order that refer to what comes later, or to their own table.
func backward(all []*table) (out [][2]string) {
	done := map[string]bool{}
	for _, t := range all {
		for _, r := range t.to {
			if !done[r.table] {
				out = append(out, [2]string{t.Name, r.name})
			}
		}
		done[t.Name] = true
	}
	return out
}

func (t *table) list() string { return quoted(t.Columns) }

// quoted writes names as either engine takes them.
func quoted(names []string) string { return `"` + strings.Join(names, `", "`) + `"` }

// same tells whether two tables hold the same columns.
func (t *table) same(o *table) bool {
	return t.Name == o.Name && slices.Equal(t.Columns, o.Columns) && slices.Equal(t.Kinds, o.Kinds)
}

// version is the number of the newest migration.
func version(ctx context.Context, tx *sql.Tx) (n int64, err error) {
	err = tx.QueryRowContext(ctx, "SELECT max(version_id) FROM "+migrations.VersionTable).Scan(&n)
	return n, err
}

func each(ctx context.Context, tx *sql.Tx, query string, do func(*sql.Rows) error) error {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := do(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
