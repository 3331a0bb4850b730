package verify_test

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/store/storetest"
)

// BenchmarkVerify tells how many rows verify takes a second, entries of the
// chains among them, beside reading and hashing the same rows with plain SQL, in
// a service with so many full checks, each of which moved something.
func BenchmarkVerify(b *testing.B) {
	for _, checks := range []int{500, 2000} {
		file := filepath.Join(b.TempDir(), "books.db")
		h := fixture.NewStowed(b, storetest.Open(b, file))
		for i := range checks {
			from, to := "NORTH-STORE", "N-02"
			if i%2 == 1 {
				from, to = to, from
			}
			h.Move(h.Dressings.ID, 1, from, to, map[bool]inventory.Reason{true: inventory.ReasonStow,
				false: inventory.ReasonReturn}[i%2 == 0])
			_, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, h.FullCheck(), "")
			require.NoError(b, err)
		}
		rows := 0
		b.Run(fmt.Sprintf("%d/verify", checks), func(b *testing.B) {
			for b.Loop() {
				r, err := h.S.Verify.Verify(h.Ctx)
				require.NoError(b, err)
				require.Empty(b, r.Faults)
				rows = r.Entries + r.Facts
			}
			b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
		b.Run(fmt.Sprintf("%d/read and hash", checks), func(b *testing.B) {
			db, err := sql.Open("sqlite", "file:"+file)
			require.NoError(b, err)
			defer db.Close()
			n := 0
			for b.Loop() {
				n = readAndHash(b, db)
			}
			require.GreaterOrEqual(b, n, rows)
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// readAndHash reads every row of every table and hashes what it says.
func readAndHash(b *testing.B, db *sql.DB) (n int) {
	b.Helper()
	var tables []string
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	require.NoError(b, err)
	for rows.Next() {
		var name string
		require.NoError(b, rows.Scan(&name))
		tables = append(tables, name)
	}
	require.NoError(b, rows.Close())
	for _, table := range tables {
		rows, err := db.Query("SELECT * FROM " + table)
		require.NoError(b, err)
		columns, err := rows.Columns()
		require.NoError(b, err)
		values, into := make([]sql.RawBytes, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		var text []byte
		for rows.Next() {
			require.NoError(b, rows.Scan(into...))
			text = text[:0]
			for _, v := range values {
				text = append(append(text, v...), 0)
			}
			_ = sha256.Sum256(text)
			n++
		}
		require.NoError(b, rows.Close())
	}
	return n
}
