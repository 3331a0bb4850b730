package prepared_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store/prepared"
)

// open returns one connection to a file with a table of a hundred rows.
func open(t testing.TB, driver string) *sql.DB {
	db, err := sql.Open(driver, "file:"+filepath.ToSlash(filepath.Join(t.TempDir(), "a.db"))+
		"?_pragma=journal_mode(WAL)&_txlock=immediate")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { assert.NoError(t, db.Close()) })
	_, err = db.ExecContext(t.Context(), "CREATE TABLE a (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE)")
	require.NoError(t, err)
	for n := range 100 {
		_, err = db.ExecContext(t.Context(), "INSERT INTO a (id, name) VALUES (?, ?)", n+1, fmt.Sprint("row ", n+1))
		require.NoError(t, err)
	}
	return db
}

func name(t testing.TB, from interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}, id int) string {
	var got string
	require.NoError(t, from.QueryRowContext(t.Context(), "SELECT name FROM a WHERE id = ?", id).Scan(&got))
	return got
}

// TestOneTextTwiceAtOnce reads with a text while rows of the same text are open, as a list that looks up its own table.
func TestOneTextTwiceAtOnce(t *testing.T) {
	db := open(t, prepared.Driver)
	tx, err := db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	const text = "SELECT id FROM a WHERE id > ? ORDER BY id"
	outer, err := tx.QueryContext(t.Context(), text, 97)
	require.NoError(t, err)
	var pairs []string
	for outer.Next() {
		var a, b int
		require.NoError(t, outer.Scan(&a))
		inner, err := tx.QueryContext(t.Context(), text, a)
		require.NoError(t, err)
		for inner.Next() {
			require.NoError(t, inner.Scan(&b))
			pairs = append(pairs, fmt.Sprint(a, "<", b))
		}
		require.NoError(t, inner.Err())
		require.NoError(t, inner.Close())
	}
	require.NoError(t, outer.Err())
	require.NoError(t, tx.Commit())
	assert.Equal(t, []string{"98<99", "98<100", "99<100"}, pairs)
}

// TestSchemaChangesBetween: a text that was parsed before a table changed answers with the table as it is now.
func TestSchemaChangesBetween(t *testing.T) {
	db := open(t, prepared.Driver)
	columns := func() int {
		rows, err := db.QueryContext(t.Context(), "SELECT * FROM a")
		require.NoError(t, err)
		defer rows.Close()
		names, err := rows.Columns()
		require.NoError(t, err)
		for rows.Next() {
		}
		require.NoError(t, rows.Err())
		return len(names)
	}
	assert.Equal(t, 2, columns())
	_, err := db.ExecContext(t.Context(), "ALTER TABLE a ADD COLUMN more TEXT")
	require.NoError(t, err)
	assert.Equal(t, 3, columns())
	_, err = db.ExecContext(t.Context(), "DROP TABLE a")
	require.NoError(t, err)
	_, err = db.QueryContext(t.Context(), "SELECT * FROM a")
	assert.ErrorContains(t, err, "no such table")
}

// TestUsableAfterFailures: what is refused, undone, read in part or interrupted leaves nothing behind.
func TestUsableAfterFailures(t *testing.T) {
	db := open(t, prepared.Driver)
	const add = "INSERT INTO a (id, name) VALUES (?, ?)"
	for range 3 {
		_, err := db.ExecContext(t.Context(), add, 500, "row 1")
		assert.ErrorContains(t, err, "UNIQUE")

		rows, err := db.QueryContext(t.Context(), "SELECT id FROM a")
		require.NoError(t, err)
		assert.True(t, rows.Next())
		require.NoError(t, rows.Close())

		tx, err := db.BeginTx(t.Context(), nil)
		require.NoError(t, err)
		_, err = tx.ExecContext(t.Context(), add, 501, "undone")
		require.NoError(t, err)
		require.NoError(t, tx.Rollback())

		soon, cancel := context.WithTimeout(t.Context(), 30*time.Millisecond)
		var n int
		const long = "SELECT count(*) FROM a a, a b, a c, a d, a e WHERE a.id+b.id+c.id+d.id+e.id > ?"
		err = db.QueryRowContext(soon, long, 5).Scan(&n)
		cancel()
		assert.Error(t, err, "ten thousand million rows in 30 ms")

		require.NoError(t, db.QueryRowContext(t.Context(), "SELECT count(*) FROM a").Scan(&n))
		assert.Equal(t, 100, n)
		assert.Equal(t, "row 7", name(t, db, 7))
	}
	_, err := db.ExecContext(t.Context(), add, 501, "kept")
	require.NoError(t, err)
	assert.Equal(t, "kept", name(t, db, 501))
}

// TestManyTexts asks more texts than are kept, twice, and long ones.
func TestManyTexts(t *testing.T) {
	db := open(t, prepared.Driver)
	for range 2 {
		for n := range prepared.Most + 50 {
			var got int
			text := fmt.Sprintf("SELECT id + %d FROM a WHERE id = ?", n)
			require.NoError(t, db.QueryRowContext(t.Context(), text, 3).Scan(&got))
			require.Equal(t, n+3, got)
		}
		marks := strings.Repeat("?, ", prepared.LongestText/2) + "?"
		var args []any
		for n := range strings.Count(marks, "?") {
			args = append(args, n)
		}
		var got int
		row := db.QueryRowContext(t.Context(), "SELECT count(*) FROM a WHERE id IN ("+marks+")", args...)
		require.NoError(t, row.Scan(&got))
		assert.Equal(t, 100, got)
	}
}

// BenchmarkLookup sets a lookup of one row, as most of the program's are, beside the same by the driver beneath.
func BenchmarkLookup(b *testing.B) {
	for _, driver := range []string{"sqlite", prepared.Driver} {
		b.Run(driver, func(b *testing.B) {
			db := open(b, driver)
			for n := 0; b.Loop(); n++ {
				name(b, db, n%100+1)
			}
		})
	}
}
