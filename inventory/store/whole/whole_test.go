package whole_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/store/whole"
)

func nothing(context.Context) error { return nil }

func written(t *testing.T, s inventory.Store) string {
	t.Helper()
	var out bytes.Buffer
	_, err := whole.Write(t.Context(), s, inventorytest.At("2026-11-30T12:00:00Z"), &out, nothing)
	require.NoError(t, err)
	return out.String()
}

func of(text string) func() (io.ReadCloser, error) {
	return func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(text)), nil }
}

func fill(t *testing.T, s inventory.Store, text string) error {
	t.Helper()
	_, err := whole.Fill(t.Context(), s, of(text), func(context.Context, whole.Header) error { return nil })
	return err
}

// rows are the lines of a file between the first, which names the engine, and the last.
func rows(text string) []string {
	all := strings.SplitAfter(text, "\n")
	return all[1 : len(all)-2]
}

// stowed is a service with stock, bags and a check in it.
func stowed(t *testing.T, s inventory.Store) *fixture.Stowed {
	t.Helper()
	h := fixture.NewStowed(t, s)
	h.Record(h.FullCheck())
	return h
}

// small is what is written of it.
func small(t *testing.T) string {
	t.Helper()
	s := storetest.OpenSQLite(t)
	stowed(t, s)
	return written(t, s)
}

// TestBothEnginesWriteTheSame carries a service from each engine to each: what is written of it is the same, byte for
// byte but for the engine's name, and new rows go on with the numbers.
func TestBothEnginesWriteTheSame(t *testing.T) {
	for _, from := range []string{store.SQLite, store.Postgres} {
		for _, to := range []string{store.SQLite, store.Postgres} {
			t.Run(from+" to "+to, func(t *testing.T) {
				source, target := storetest.OpenEmpty(t, from), storetest.OpenEmpty(t, to)
				h := stowed(t, source)
				text := written(t, source)
				require.NoError(t, fill(t, target, text))
				again := written(t, target)
				assert.Equal(t, rows(text), rows(again))
				assert.Contains(t, again, `"engine":"`+to+`"`)
				refused := fill(t, target, text)
				assert.ErrorContains(t, refused, "db", "it holds records now")
				assert.Equal(t, again, written(t, target), "and keeps them")
				for _, s := range []inventory.Store{source, target} { // both go on alike
					svc := services.New(s, func() inventory.Instant { return h.Now }, services.Options{})
					_, err := svc.Ledger.Receive(h.Ctx, fixture.Admin, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 7,
						BatchNo: "NEXT"})
					require.NoError(t, err)
					r, err := svc.Verify.Verify(t.Context())
					require.NoError(t, err)
					assert.Empty(t, r.Faults)
				}
				assert.Equal(t, rows(written(t, source)), rows(written(t, target)))
			})
		}
	}
}

// columnsOf are the columns of every table, read otherwise than the package does.
func columnsOf(t *testing.T, file string) (out []string) {
	t.Helper()
	db, err := sql.Open("sqlite", file)
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'table'")
	require.NoError(t, err)
	var names []string
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		names = append(names, name)
	}
	require.NoError(t, rows.Err())
	for _, name := range names {
		if whole.LeftOut[name] != "" || strings.HasPrefix(name, "sqlite_") {
			continue
		}
		all, err := db.Query("SELECT * FROM " + name + " LIMIT 0")
		require.NoError(t, err)
		columns, err := all.Columns()
		require.NoError(t, err)
		require.NoError(t, all.Close())
		for _, c := range columns {
			out = append(out, name+"."+c)
		}
	}
	slices.Sort(out)
	return out
}

// TestEveryColumnIsCarried: no list by hand says what is carried, so that a new table or column is too.
func TestEveryColumnIsCarried(t *testing.T) {
	var files []string
	var stores []inventory.Store
	for range 2 {
		file := storetest.Database(t, store.SQLite)
		s := storetest.Open(t, file)
		files, stores = append(files, file), append(stores, s)
	}
	stowed(t, stores[0])
	for i, file := range files {
		db, err := sql.Open("sqlite", file)
		require.NoError(t, err)
		for _, text := range []string{"ALTER TABLE item ADD COLUMN later TEXT",
			"CREATE TABLE after (name TEXT PRIMARY KEY, item TEXT REFERENCES item (code), later BLOB)"} {
			_, err := db.Exec(text)
			require.NoError(t, err)
		}
		if i == 0 {
			_, err = db.Exec("UPDATE item SET later = 'x'")
			require.NoError(t, err)
			_, err = db.Exec("INSERT INTO after SELECT 'one', min(code), x'00ff' FROM item")
			require.NoError(t, err)
		}
		require.NoError(t, db.Close())
	}
	text := written(t, stores[0])
	var got []string
	for _, line := range rows(text) {
		var table struct {
			Table   string
			Columns []string
		}
		if strings.HasPrefix(line, "{") {
			require.NoError(t, json.Unmarshal([]byte(line), &table))
			for _, c := range table.Columns {
				got = append(got, table.Table+"."+c)
			}
		}
	}
	slices.Sort(got)
	assert.Equal(t, columnsOf(t, files[0]), got)
	assert.Contains(t, got, "after.later")
	assert.Greater(t, len(got), 260)
	require.NoError(t, fill(t, stores[1], text))
	assert.Equal(t, rows(text), rows(written(t, stores[1])))
	assert.Contains(t, text, `"AP8="`)
}

// TestAnyByteIsRefused changes bytes anywhere in a file, and cuts it: it is refused before anything is written, and
// what does not look first leaves nothing either.
func TestAnyByteIsRefused(t *testing.T) {
	text := small(t)
	_, end, err := whole.Check(strings.NewReader(text))
	require.NoError(t, err)
	assert.Greater(t, end.Total(), 50)
	tries := map[bool]int{false: 300, true: 10_000}[inventorytest.Long]
	random := rand.New(rand.NewPCG(1, 2))
	for i := range tries {
		at := random.IntN(len(text))
		if i < len(end.Sum) { // the last line too
			at = len(text) - 1 - i
		}
		changed := []byte(text)
		changed[at] ^= 1 << random.IntN(8)
		_, _, err := whole.Check(bytes.NewReader(changed))
		require.Equal(t, inventory.Invalid, inventory.KindOf(err), "byte %d", at)
	}
	for _, other := range []string{"", "\n", text[:len(text)-1], text[:len(text)/2], text + "\n", text + text,
		strings.Join(rows(text), "")} {
		_, _, err := whole.Check(strings.NewReader(other))
		assert.Equal(t, inventory.Invalid, inventory.KindOf(err))
	}
	empty := storetest.OpenSQLite(t)
	before := written(t, empty)
	require.Error(t, fill(t, empty, strings.Replace(text, "DRESSING", "DRESSINK", 1)))
	require.Error(t, fill(t, empty, text[:len(text)/2]))
	assert.Equal(t, before, written(t, empty))
}

// TestNothingIsLeftOfWhatFails: what is refused at the end undoes all, on either engine, and a second try succeeds.
func TestNothingIsLeftOfWhatFails(t *testing.T) {
	text := small(t)
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		before := written(t, s)
		no := errors.New("no")
		_, err := whole.Fill(t.Context(), s, of(text), func(ctx context.Context, h whole.Header) error {
			inside, err := inventory.Read(ctx, s, inventory.Reader.Heads)
			require.NoError(t, err)
			assert.Equal(t, fmt.Sprint(h.Chains), fmt.Sprint(inside), "confirm sees all that was filled in")
			return no
		})
		require.ErrorIs(t, err, no)
		assert.Equal(t, before, written(t, s))
		other := strings.Replace(text, `"schema":`, `"schema":1`, 1)
		assert.ErrorContains(t, fill(t, s, other), "file")
		assert.Equal(t, before, written(t, s))
		require.NoError(t, fill(t, s, text))
	})
}

// TestGapsArePostgresOwn: numbers of movements that PostgreSQL left out are no fault where SQLite took them over, while
// one that is left out later is.
func TestGapsArePostgresOwn(t *testing.T) {
	source, file := storetest.OpenEmpty(t, store.Postgres), storetest.Database(t, store.SQLite)
	h := stowed(t, source)
	failed := source.Write(t.Context(), func(ctx context.Context, _ inventory.Writer) error {
		_, err := store.Tx(ctx).ExecContext(ctx, "SELECT nextval(pg_get_serial_sequence('movement', 'id')) FROM "+
			"generate_series(1, 3)")
		require.NoError(t, err)
		return errors.New("given up")
	})
	require.Error(t, failed)
	h.Receive("PEN", "", 1, "")
	target := storetest.Open(t, file)
	require.NoError(t, fill(t, target, written(t, source)))
	svc := services.New(target, func() inventory.Instant { return h.Now }, services.Options{})
	faults := func() string {
		t.Helper()
		r, err := svc.Verify.Verify(t.Context())
		require.NoError(t, err)
		return fmt.Sprint(r.Faults)
	}
	assert.Equal(t, "[]", faults())
	db, err := sql.Open("sqlite", file)
	require.NoError(t, err)
	defer db.Close()
	var gaps int
	require.NoError(t, db.QueryRow("SELECT gaps FROM service").Scan(&gaps))
	assert.Equal(t, 3, gaps)
	_, err = db.Exec("UPDATE service SET gaps = 4")
	require.NoError(t, err)
	assert.Contains(t, faults(), "4 ids of movements were left out when they were moved here, and 3 are")
}
