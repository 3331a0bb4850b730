package main

import (
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// testVerify has verify pass on the demo's database, and name the row after any
// one row of the ledger was altered, removed or put elsewhere in its chain with
// plain SQL.
func testVerify(t *testing.T, db string) {
	require.Regexp(t, `^\d+ entries, \d+ rows, \d{4} stock records, \d+ balances, 36 bags, 0 faults\n$`,
		succeed(t, "verify", "--db", db))
	t.Run("evidence", func(t *testing.T) { testEvidence(t, db) })
	c := chainOf(t, db, "FM")
	first, second, butLast, last := c[0], c[1], c[len(c)-2], c[len(c)-1]
	one, after := c[len(c)*3/4], c[len(c)*3/4+1]

	for column, value := range map[string]string{
		"seq": "seq + 100000", "lot_id": "lot_id + 1", "into_lot_id": "into_lot_id + 1", "batch_id": "batch_id + 1",
		"qty":        "qty + 1",
		"from_place": "'HT-STORE'", "to_place": "'HT-STORE'", "reason": "CASE reason WHEN 'lost' THEN 'used' ELSE 'lost' END",
		"cause":       "CASE cause WHEN 'other' THEN 'missing' ELSE 'other' END",
		"happened_at": "'2001-01-01T00:00:00.000000Z'", "recorded_at": "'2001-01-01T00:00:00.000000Z'",
		"by_name": "'somebody'", "witness": "'somebody'", "reference": "'changed'", "note": "'changed'",
		"corrects": "1", "prev_hash": "hash", "hash": "prev_hash",
	} {
		t.Run("altered "+column, func(t *testing.T) { tampered(t, db, []row{one}, set(column, value, one)) })
	}
	// FM has the longest chain
	t.Run("altered station", func(t *testing.T) { tampered(t, db, []row{last}, set("station", "'SQ'", last)) })
	t.Run("altered id", func(t *testing.T) {
		tampered(t, db, []row{{id: one.id + 100_000}}, set("id", one.id+100_000,
			one))
	})
	remove := func(r row) string { return fmt.Sprintf("DELETE FROM movement WHERE id = %d", r.id) }
	t.Run("removed the first", func(t *testing.T) { tampered(t, db, []row{second}, remove(first)) })
	t.Run("removed one", func(t *testing.T) { tampered(t, db, []row{after}, remove(one)) })
	t.Run("removed the last", func(t *testing.T) { tampered(t, db, []row{butLast}, remove(last)) })

	const parked = 1_000_000_000
	bySeq := []string{set("seq", parked, one), set("seq", one.seq, after), set("seq", after.seq, one)}
	byID := []string{set("id", parked, one), set("id", one.id, after), set("id", after.id, row{id: parked})}
	t.Run("reordered by number", func(t *testing.T) { tampered(t, db, []row{one, after}, bySeq...) })
	t.Run("reordered by id", func(t *testing.T) { tampered(t, db, []row{one}, byID...) })
	t.Run("reordered by both", func(t *testing.T) { tampered(t, db, []row{one, after}, append(bySeq, byID...)...) })
}

// testEvidence has a script that shares nothing with the program prove the
// evidence of a station of the demo, and notice alterations all over it.
func testEvidence(t *testing.T, db string) {
	file := filepath.Join(t.TempDir(), "evidence.txt")
	ask := []string{"evidence", "--db", db, "--station", "FM", "--from", "2020-01-01", "--to", "2099-12-31", "--out", file}
	succeed(t, ask...)
	assert.Contains(t, stowkeeper(t, ask...).err, "--out: name a new file")
	node, err := exec.LookPath("node")
	if err != nil {
		require.NotEqual(t, "1", os.Getenv("STOWKEEPER_NO_SKIP"), "install node, which proves evidence files")
		t.Skip("there is no node to prove evidence files with")
	}
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "it is its owner's to pass on")
	said, err := exec.CommandContext(t.Context(), node, "../../inventory/verify/testdata/check.mjs", file,
		fmt.Sprint(info.Size()/20+1)).CombinedOutput()
	require.NoError(t, err, string(said))
	assert.Regexp(t, `^proved: \d{4,} entries, \d{3,} rows, \d{3,} stock records\nevery altered byte was noticed\n$`,
		string(said))
	t.Log(info.Size(), string(said))
}

// row is one movement's place in its chain.
type row struct{ id, seq int64 }

func set(column string, value any, r row) string {
	return fmt.Sprintf("UPDATE movement SET %s = %v WHERE id = %d", column, value, r.id)
}

// openPlainly opens a SQLite file as any tool does, with nothing that would
// keep it from making a mess.
func openPlainly(t testing.TB, file string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+file+"?_pragma=foreign_keys(0)&_pragma=ignore_check_constraints(1)")
	require.NoError(t, err)
	return db
}

// chainOf returns the rows of a station's chain in order.
func chainOf(t *testing.T, file, station string) []row {
	t.Helper()
	db := openPlainly(t, file)
	defer db.Close()
	rows, err := db.Query("SELECT id, seq FROM movement WHERE station = ? ORDER BY seq", station)
	require.NoError(t, err)
	defer rows.Close()
	var out []row
	for rows.Next() {
		var r row
		require.NoError(t, rows.Scan(&r.id, &r.seq))
		out = append(out, r)
	}
	require.NoError(t, rows.Err())
	require.Greater(t, len(out), 100)
	return out
}

// tampered runs statements on a copy of a database, each of which must change
// one row, and has verify fail and name the given rows.
func tampered(t *testing.T, db string, named []row, statements ...string) {
	t.Helper()
	bytes, err := os.ReadFile(db)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(file, bytes, 0o600))
	plain := openPlainly(t, file)
	for _, s := range statements {
		result, err := plain.Exec(s)
		require.NoError(t, err, s)
		changed, err := result.RowsAffected()
		require.NoError(t, err)
		require.EqualValues(t, 1, changed, s)
	}
	require.NoError(t, plain.Close())
	o := stowkeeper(t, "verify", "--db", file)
	assert.Equal(t, 1, o.code, o.out)
	assert.Contains(t, o.err, "do not verify")
	for _, r := range named {
		assert.Regexp(t, fmt.Sprintf(`movement %d\b`, r.id), o.out, "%v", statements)
	}
}
