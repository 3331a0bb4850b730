package store_test

import (
	"database/sql"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gorm.io/gorm/schema"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
	"stowkeeper/inventory/store/storetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestMigrationTexts looks at what is easily got wrong: the SQLite dialect's
// parser takes a tab for a quote, and each text must say that it goes up.
func TestMigrationTexts(t *testing.T) {
	for _, engine := range []string{store.SQLite, store.Postgres} {
		texts, err := migrations.Rendered(engine)
		require.NoError(t, err)
		names, err := fs.Glob(texts, "*.sql")
		require.NoError(t, err)
		written, err := fs.Glob(migrations.Texts, "*.sql")
		require.NoError(t, err)
		require.Len(t, names, len(written))
		for i, name := range names {
			text, err := fs.ReadFile(texts, name)
			require.NoError(t, err)
			assert.NotContains(t, string(text), "\t", name)
			assert.NotContains(t, string(text), "{{", name)
			assert.True(t, strings.HasPrefix(string(text), "-- +goose Up\n"), name)
			assert.Regexp(t, `^\d{5}_[a-z_]+\.sql$`, name)
			assert.True(t, i == 0 || name[:5] > names[i-1][:5], "%s: numbers rise", name)
		}
	}
}

// TestNoAutoMigrate: gorm's migrator rebuilds SQLite tables and may lose data.
func TestNoAutoMigrate(t *testing.T) {
	files, err := fs.Glob(os.DirFS("."), "*.go")
	require.NoError(t, err)
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, word := range []string{"AutoMigrate", ".Migrator()", "_time_format="} {
			assert.NotContains(t, string(text), word, name)
		}
	}
}

// TestSchema compares the schema that the migrations make with the one kept
// in testdata. Run with -update after a new migration, and read the change.
func TestSchema(t *testing.T) {
	dumps := map[string]func(*testing.T, *sql.DB) string{store.SQLite: dumpSQLite, store.Postgres: dumpPostgres}
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		got := dumps[s.Engine()](t, db)
		golden := "testdata/schema." + s.Engine() + ".sql"
		if *update {
			require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
		}
		want, err := os.ReadFile(golden)
		require.NoError(t, err)
		assert.Equal(t, string(want), got)
	})
}

func texts(t *testing.T, db *sql.DB, query string, args ...any) []string {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), query, args...)
	require.NoError(t, err)
	defer rows.Close()
	var out []string
	for rows.Next() {
		var text string
		require.NoError(t, rows.Scan(&text))
		out = append(out, text)
	}
	require.NoError(t, rows.Err())
	return out
}

func dumpSQLite(t *testing.T, db *sql.DB) string {
	return strings.Join(texts(t, db, `SELECT sql || ';' FROM sqlite_schema
WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' AND tbl_name <> ?
ORDER BY tbl_name, type DESC, name`, migrations.VersionTable), "\n\n") + "\n"
}

// dumpPostgres writes tables, constraints and indexes as the catalogue has
// them, since there is no text of them to read back.
func dumpPostgres(t *testing.T, db *sql.DB) string {
	var b strings.Builder
	for _, table := range texts(t, db, `SELECT relname FROM pg_class
WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND relname <> $1 ORDER BY relname`,
		migrations.VersionTable) {
		columns := texts(t, db, `SELECT concat_ws(' ', a.attname, format_type(a.atttypid, a.atttypmod),
    CASE WHEN l.collname <> 'default' THEN 'COLLATE "' || l.collname || '"' END,
    CASE WHEN a.attidentity = 'a' THEN 'GENERATED ALWAYS AS IDENTITY' END, CASE WHEN a.attnotnull THEN 'NOT NULL' END)
FROM pg_attribute a LEFT JOIN pg_collation l ON l.oid = a.attcollation
WHERE a.attrelid = $1::regclass AND a.attnum > 0 ORDER BY a.attnum`, table)
		constraints := texts(t, db, `SELECT 'CONSTRAINT ' || conname || ' ' || pg_get_constraintdef(oid) FROM pg_constraint
WHERE conrelid = $1::regclass ORDER BY contype, conname`, table)
		fmt.Fprintf(&b, "CREATE TABLE %s (\n    %s\n);\n\n", table, strings.Join(append(columns, constraints...), ",\n    "))
		for _, index := range texts(t, db, `SELECT pg_get_indexdef(i.indexrelid) FROM pg_index i
WHERE i.indrelid = $1::regclass AND
    NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid AND c.contype <> 'f')
ORDER BY 1`, table) {
			b.WriteString(index + ";\n\n")
		}
	}
	return b.String()
}

// TestRowStructs holds every row struct against its table: the same columns,
// and NULL only where the Go type can say "none".
func TestRowStructs(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		for _, row := range store.RowStructs() {
			parsed, err := schema.Parse(row, &sync.Map{}, store.Naming)
			require.NoError(t, err)
			want := map[string]bool{}
			for _, f := range parsed.Fields {
				assert.False(t, f.HasDefaultValue && !f.AutoIncrement, "%T.%s: a default would replace a zero", row, f.Name)
				want[f.DBName] = nullable(f)
			}
			assert.Equal(t, want, columns(t, db, s.Engine(), parsed.Table), "%T", row)
			assert.Empty(t, parsed.Relationships.Relations, "%T", row)
		}
	})
}

func nullable(f *schema.Field) bool {
	switch f.FieldType.String() {
	case "store.day", "store.instant", "store.ref", "store.code":
		return !f.NotNull
	}
	return strings.HasPrefix(f.FieldType.String(), "store.document[")
}

// columns returns which columns of a table may be NULL.
func columns(t *testing.T, db *sql.DB, engine, table string) map[string]bool {
	query := `SELECT name, "notnull" = 0 AND pk = 0 FROM pragma_table_info(?)`
	if engine == store.Postgres {
		query = "SELECT column_name, is_nullable = 'YES' FROM information_schema.columns WHERE table_schema = 'public' AND " +
			"table_name = $1"
	}
	rows, err := db.QueryContext(t.Context(), query, table)
	require.NoError(t, err)
	defer rows.Close()
	out := map[string]bool{}
	for rows.Next() {
		var name string
		var null bool
		require.NoError(t, rows.Scan(&name, &null))
		out[name] = null
	}
	require.NoError(t, rows.Err())
	return out
}
