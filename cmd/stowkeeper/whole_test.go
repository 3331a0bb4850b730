package main

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/store/whole"
	"stowkeeper/testdata"
)

// newDemo is a database with the demo in it.
func newDemo(t *testing.T) string {
	t.Helper()
	file := storetest.Database(t, store.SQLite)
	s, err := store.Open(t.Context(), file, store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, demo.Load(t.Context(), s, testdata.Demo, secret.Argon2id{}, clock(), func(int, int) {}))
	return file
}

// TestMovedThereAndBack moves the demo, and a service with something in every table, to PostgreSQL and back: every row
// is what it was, all chains end as they did, and the service goes on with the next receipt.
func TestMovedThereAndBack(t *testing.T) {
	files := map[string]string{"filled": filled(t).file}
	if !raced { // the demo holds a year
		files["demo"] = newDemo(t)
	}
	for name, file := range files {
		t.Run(name, func(t *testing.T) {
			pg, back := storetest.Database(t, store.Postgres), storetest.Database(t, store.SQLite)
			assert.Contains(t, succeed(t, "move", "--from", file, "--to", pg), "Moved.")
			said := succeed(t, "move", "--from", pg, "--to", back)
			assert.Contains(t, said, "verified")
			for _, db := range []string{pg, back} {
				assert.Contains(t, succeed(t, "verify", "--db", db), " 0 faults")
				assert.Equal(t, succeed(t, "verify", "--db", file, "--heads"), succeed(t, "verify", "--db", db, "--heads"))
			}
			assertSameRows(t, file, back)
			kept := filepath.Join(t.TempDir(), "heads.txt")
			require.NoError(t, os.WriteFile(kept, []byte(succeed(t, "verify", "--db", file, "--heads")), 0o600))
			for _, db := range []string{pg, back} {
				o := stowkeeper(t, "move", "--from", file, "--to", db)
				assert.Equal(t, 1, o.code)
				assert.Contains(t, o.err, "--to: choose an empty database")
				p := serve(t, db)
				newClient(t, p, newToken(t, db, "administrator", "next")).post("/items", fields{"code": "NEXT", "name": "Next",
					"category": "other", "unit": "each", "tracked_by": "lot"})
				station := stationIn(t, file)
				newClient(t, p, newToken(t, db, "quartermaster", "keeper")).post("/receipts", fields{"place": station + "-STORE",
					"item": "NEXT", "qty": 3})
				p.stop()
				assert.Contains(t, succeed(t, "verify", "--db", db, "--since", kept), " 0 faults")
			}
		})
	}
}

func stationIn(t *testing.T, file string) (code string) {
	t.Helper()
	db := openPlainly(t, file)
	defer db.Close()
	require.NoError(t, db.QueryRow("SELECT code FROM station WHERE closed_at IS NULL ORDER BY code LIMIT 1").Scan(&code))
	return code
}

// assertSameRows compares all rows of two files by SQL of its own; documents by what they say.
func assertSameRows(t *testing.T, one, other string) {
	t.Helper()
	first, second := openPlainly(t, one), openPlainly(t, other)
	defer first.Close()
	defer second.Close()
	names, err := first.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	require.NoError(t, err)
	var all []string
	for names.Next() {
		var name string
		require.NoError(t, names.Scan(&name))
		all = append(all, name)
	}
	require.NoError(t, names.Err())
	rows := 0
	for _, name := range all {
		if whole.LeftOut[name] != "" {
			continue
		}
		want, got := rowsOf(t, first, name), rowsOf(t, second, name)
		rows += len(want)
		require.Equal(t, len(want), len(got), name)
		for i := range want {
			require.Equal(t, want[i], got[i], "%s, row %d", name, i)
		}
	}
	assert.Greater(t, len(all), 40)
	assert.Greater(t, rows, 50)
}

func rowsOf(t *testing.T, db *sql.DB, table string) (out []string) {
	t.Helper()
	rows, err := db.Query("SELECT * FROM " + table)
	require.NoError(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	for rows.Next() {
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		require.NoError(t, rows.Scan(into...))
		for i, v := range values {
			var document any
			if s, ok := v.(string); ok && strings.ContainsAny(s, "[{") && json.Unmarshal([]byte(s), &document) == nil {
				values[i] = document
			}
		}
		out = append(out, fmt.Sprintf("%T %#[1]v", values))
	}
	require.NoError(t, rows.Err())
	slices.Sort(out)
	return out
}

// TestWholeFile exports a service whole and reads it back: what was altered, what is there already and what does not
// verify is refused, and the file is for its owner alone.
func TestWholeFile(t *testing.T) {
	db, folder := smallDatabase(t), t.TempDir()
	file, back := filepath.Join(folder, "all.whole"), filepath.Join(folder, "back.db")
	assert.Contains(t, succeed(t, "export", "--db", db, "--whole", file), "keep it as safe as the database")
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	again := stowkeeper(t, "export", "--db", db, "--whole", file)
	assert.Contains(t, again.err, "<folder>: with --whole, choose a new file")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(text), `"warning":"Secret: `)
	refused := func(says string, text []byte) {
		t.Helper()
		other := filepath.Join(t.TempDir(), "other.whole")
		require.NoError(t, os.WriteFile(other, text, 0o600))
		o := stowkeeper(t, "import", "--db", back, "whole", other)
		assert.Equal(t, 1, o.code)
		assert.Contains(t, o.err, says)
		assert.NoFileExists(t, back)
	}
	changed := slices.Clone(text)
	changed[len(text)/2] ^= 1
	refused("<file>: damaged, altered or cut off", changed)
	refused("<file>: choose a file that export --whole wrote", []byte("code,name\nA,B\n"))
	assert.Contains(t, stowkeeper(t, "import", "--db", back, "whole", file+"x").err, "<file>: no such file")

	assert.Contains(t, succeed(t, "import", "--db", back, "--dry-run", "whole", file), "dry run, nothing was changed")
	assert.NoFileExists(t, back)
	assert.Contains(t, succeed(t, "import", "--db", back, "whole", file), "verified: 3 chains")
	assertSameRows(t, db, back)
	assert.FileExists(t, headsFile(back))
	assert.Contains(t, stowkeeper(t, "import", "--db", back, "whole", file).err, "--db: choose an empty database")

	plain := openPlainly(t, db)
	defer plain.Close()
	_, err = plain.Exec("UPDATE station SET name = 'Elsewhere' WHERE code = 'S2'")
	require.NoError(t, err)
	o := stowkeeper(t, "export", "--db", db, "--whole", file+"2")
	assert.Equal(t, 1, o.code)
	assert.Contains(t, o.err, "station")
	assert.NoFileExists(t, file+"2")
	assert.Contains(t, stowkeeper(t, "move", "--from", db, "--to", back+"2").err, "the records do not verify")
	assert.NoFileExists(t, back+"2")
}

// TestMoveIsWholeOrNone kills a move in the middle, on either engine: the database stays empty, and a second try
// succeeds.
func TestMoveIsWholeOrNone(t *testing.T) {
	db := smallDatabase(t)
	succeed(t, "import", "--db", db, "stock", openingRows(t, 5000, 500, 0))
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			to := storetest.Database(t, engine)
			killed := 0
			for wait := 200 * time.Millisecond; killed < 4; wait += 150 * time.Millisecond {
				ctx, cancel := context.WithTimeout(t.Context(), wait)
				err := command(ctx, "1", "move", "--from", db, "--to", to).Run()
				cancel()
				if err == nil {
					break
				}
				killed++
				assert.NotContains(t, stowkeeper(t, "person", "list", "--db", to).out, "Ann")
				o := stowkeeper(t, "verify", "--db", to)
				if o.code == 0 {
					assert.Contains(t, o.out, " 0 stock records")
				}
			}
			assert.Positive(t, killed)
			succeed(t, "move", "--from", db, "--to", to)
			assert.Equal(t, succeed(t, "verify", "--db", db), succeed(t, "verify", "--db", to))
		})
	}
}

// TestMoveKeepsMemorySmall moves many movements: carrying them takes no more memory than to verify them.
func TestMoveKeepsMemorySmall(t *testing.T) {
	movements := map[bool]int{false: 5_000, true: 200_000}[inventorytest.Long]
	db := smallDatabase(t)
	succeed(t, "import", "--db", db, "stock", openingRows(t, movements, movements/20, 0))
	o, verifying := watched(t, "verify", "--db", db)
	require.Zero(t, o.code, o.err)
	for _, engine := range []string{store.SQLite, store.Postgres} {
		began := time.Now()
		o, peak := watched(t, "move", "--from", db, "--to", storetest.Database(t, engine))
		require.Zero(t, o.code, o.err)
		t.Logf("%s: %d movements in %s with %d KiB, verify alone with %d KiB", engine, movements, time.Since(began), peak,
			verifying)
		assert.Less(t, peak, verifying*5/4+64<<10)
	}
}
