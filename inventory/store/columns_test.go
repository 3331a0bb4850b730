package store_test

import (
	"context"
	"database/sql/driver"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/fault"
	"stowkeeper/inventory/store/storetest"
)

func TestDayColumn(t *testing.T) {
	day := store.DayColumn(inventory.MustDay("2028-02-29"))
	value, err := day.Value()
	require.NoError(t, err)
	assert.Equal(t, "2028-02-29", value)
	none, err := store.DayColumn(0).Value()
	require.NoError(t, err)
	assert.Nil(t, none)

	athens, err := time.LoadLocation("Europe/Athens")
	require.NoError(t, err)
	for _, src := range []any{"2028-02-29", []byte("2028-02-29"), time.Date(2028, 2, 29, 0, 0, 0, 0, time.UTC),
		time.Date(2028, 2, 29, 0, 0, 0, 0, athens)} {
		var got store.DayColumn
		require.NoError(t, got.Scan(src))
		assert.Equal(t, day, got, "%T", src)
	}
	for _, src := range []any{"2028-02-30", "2028-02", "29.02.2028", "", 20280229, time.Date(9999, 1, 1, 0, 0, 0, 0,
		time.UTC)} {
		got := day
		assert.Error(t, got.Scan(src), "%v", src)
		assert.Zero(t, got)
	}
	got := day
	require.NoError(t, got.Scan(nil))
	assert.Zero(t, got)
}

func TestInstantColumn(t *testing.T) {
	at := store.InstantColumn(inventory.InstantOf(time.Date(2026, 3, 1, 12, 0, 0, 1000, time.UTC)))
	value, err := at.Value()
	require.NoError(t, err)
	assert.Equal(t, "2026-03-01T12:00:00.000001Z", value, "as wide as any other")
	none, err := store.InstantColumn(0).Value()
	require.NoError(t, err)
	assert.Nil(t, none)

	east := time.FixedZone("", 2*3600)
	for _, src := range []any{value, []byte(value.(string)), time.Date(2026, 3, 1, 14, 0, 0, 1999, east)} {
		var got store.InstantColumn
		require.NoError(t, got.Scan(src))
		assert.Equal(t, at, got, "%T", src)
	}
	for _, src := range []any{"2026-03-01T12:00:00Z", "2026-03-01T14:00:00.000001+02:00", "2026-03-01 12:00:00.000001", "",
		7} {
		got := at
		assert.Error(t, got.Scan(src), "%v", src)
		assert.Zero(t, got)
	}
	got := at
	require.NoError(t, got.Scan(nil))
	assert.Zero(t, got)
}

func TestReferenceColumns(t *testing.T) {
	for _, column := range []driver.Valuer{store.RefColumn(0), store.CodeColumn("")} {
		value, err := column.Value()
		require.NoError(t, err)
		assert.Nil(t, value)
	}
	var id store.RefColumn
	var code store.CodeColumn
	require.NoError(t, id.Scan(int64(7)))
	assert.EqualValues(t, 7, id)
	require.NoError(t, id.Scan(nil))
	assert.Zero(t, id)
	assert.Error(t, id.Scan("7"))
	require.NoError(t, code.Scan([]byte("A-1")))
	assert.EqualValues(t, "A-1", code)
	require.NoError(t, code.Scan(nil))
	assert.Empty(t, code)
	assert.Error(t, code.Scan(7))
}

func TestDocumentColumns(t *testing.T) {
	list := store.LinesColumn{{LotID: 3, Qty: 2}}
	value, err := list.Value()
	require.NoError(t, err)
	var back store.LinesColumn
	require.NoError(t, back.Scan(value))
	assert.Equal(t, list, back)
	empty, err := store.LinesColumn{}.Value()
	require.NoError(t, err)
	assert.Equal(t, "[]", empty)
	require.NoError(t, back.Scan([]byte("[]")))
	assert.Nil(t, back)
	assert.Error(t, back.Scan("{"))
	assert.Error(t, back.Scan(7))

	one := store.NewDocument(&inventory.Decision{Decision: inventory.DecideAccept, Reason: "so", RecordedAt: 5})
	value, err = one.Value()
	require.NoError(t, err)
	var again store.ChoiceColumn
	require.NoError(t, again.Scan(value))
	assert.Equal(t, store.DocumentOf(one), store.DocumentOf(again))
	require.NoError(t, again.Scan(nil))
	assert.Nil(t, store.DocumentOf(again))
	none, err := again.Value()
	require.NoError(t, err)
	assert.Nil(t, none)
}

// TestColumnsOnEngines writes days and instants to real columns and reads them
// back, compares them there, and sees malformed ones refused.
func TestColumnsOnEngines(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		exec := func(text string, args ...any) error {
			_, err := db.ExecContext(context.Background(), store.Bind(s, text), args...)
			return err
		}
		require.NoError(t,
			exec("INSERT INTO station (code, name, timezone, chain_seq, chain_hash) VALUES ('A', 'a', 'UTC', 0, '')"))
		insert := `INSERT INTO place (code, station, at_station, kind, purpose, name, holder, version, due_back) VALUES (?,` +
			` 'A', 'A', 'away', 'issue', '', '', 1, ?)`
		days := map[string]string{"P0": "", "P1": "1900-01-01", "P2": "2027-12-31", "P3": "2028-02-29", "P4": "2199-12-31"}
		for code, text := range days {
			var day inventory.Day
			require.NoError(t, day.UnmarshalText([]byte(text)))
			require.NoError(t, exec(insert, code, store.DayColumn(day)))
			var back store.DayColumn
			require.NoError(t, db.QueryRow(store.Bind(s, "SELECT due_back FROM place WHERE code = ?"), code).Scan(&back))
			assert.Equal(t, day, inventory.Day(back), code)
		}
		var n int
		require.NoError(t, db.QueryRow(store.Bind(s, "SELECT count(*) FROM place WHERE due_back <= ?"),
			store.DayColumn(inventory.MustDay("2028-02-28"))).Scan(&n))
		assert.Equal(t, 2, n)
		for _, bad := range []string{"2027-02-30", "2027-2-3", "2027-02", "soon"} {
			if s.Engine() == store.Postgres && bad == "2027-2-3" {
				continue // a DATE column reads it as the day that it means
			}
			assert.Error(t, exec(insert, "BAD", bad), bad)
		}
	})
}

func TestInstantsOnEngines(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		insert := "INSERT INTO token (name, role, hash, created_at) VALUES ('', 'crew', ?, ?)"
		times := []time.Time{
			time.Date(1901, 1, 1, 0, 0, 0, 1000, time.UTC), time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC),
			time.Date(2026, 11, 25, 12, 0, 0, 1000, time.UTC), time.Date(2199, 12, 31, 23, 59, 59, 999999000, time.UTC),
		}
		for i, at := range times {
			_, err := db.Exec(store.Bind(s, insert), string(rune('a'+i)), store.InstantColumn(inventory.InstantOf(at)))
			require.NoError(t, err)
			var back store.InstantColumn
			require.NoError(t, db.QueryRow(store.Bind(s, "SELECT created_at FROM token WHERE hash = ?"),
				string(rune('a'+i))).Scan(&back))
			assert.Equal(t, inventory.InstantOf(at), inventory.Instant(back))
		}
		var n int
		require.NoError(t, db.QueryRow(store.Bind(s, "SELECT count(*) FROM token WHERE created_at > ?"),
			store.InstantColumn(inventory.InstantOf(times[1]))).Scan(&n))
		assert.Equal(t, 2, n, "a microsecond counts")
		for _, bad := range []string{"2026-02-30T12:00:00.000000Z", "2026-02-03T25:00:00.000000Z", "noon"} {
			_, err := db.Exec(store.Bind(s, insert), bad, bad)
			assert.Error(t, err, bad)
		}
		if s.Engine() == store.SQLite { // where any text could stand: only the one form sorts rightly
			for _, bad := range []string{"2026-11-25T12:00:00Z", "2026-11-25T14:00:00.000000+02:00",
				"2026-11-25 12:00:00.000000", "2026-11-25T12:00:00.00000Z"} {
				_, err := db.Exec(insert, bad, bad)
				assert.Equal(t, fault.Check, fault.Of(err), bad)
			}
		}
	})
}
