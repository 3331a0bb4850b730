package store_test

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/fault"
	"stowkeeper/inventory/store/storetest"
)

// TestFaultOfPostgres reads codes of PostgreSQL's manual, appendix A.
func TestFaultOfPostgres(t *testing.T) {
	wants := map[string]any{
		"23505": fault.Unique, "23503": fault.Foreign, "23514": fault.Check, "40001": fault.Race,
		"40P01": fault.Race, "55P03": fault.Race, "08006": fault.Busy, "57P01": fault.Busy, "25006": fault.Busy,
		"53300": fault.Busy, "53100": fault.Full, "42601": fault.Other, "23502": fault.Other,
	}
	for code, want := range wants {
		err := fmt.Errorf("one: %w", fmt.Errorf("two: %w", &pgconn.PgError{Code: code}))
		assert.Equal(t, want, fault.Of(err), code)
	}
	assert.Equal(t, fault.Busy, fault.Of(fmt.Errorf("one: %w", driver.ErrBadConn)))
	assert.Equal(t, fault.Busy, fault.Of(&net.OpError{Op: "dial", Err: errors.New("refused")}))
	for _, lost := range []error{io.ErrUnexpectedEOF, sql.ErrConnDone, net.ErrClosed} {
		assert.Equal(t, fault.Busy, fault.Of(fmt.Errorf("one: %w", lost)), lost)
	}
	assert.Equal(t, fault.Other, fault.Of(errors.New("UNIQUE constraint failed: a text is not a code")))
	assert.Equal(t, fault.Other, fault.Of(nil))
}

// TestFailure looks at what callers and people are given.
func TestFailure(t *testing.T) {
	assert.NoError(t, store.Failure("op", "taken", nil))
	own := inventory.Refuse(inventory.NotFound, "there is no such thing")
	assert.Equal(t, own, store.Failure("op", "taken", own))

	taken := store.Failure("add thing", "that code is taken", &pgconn.PgError{Code: "23505", Message: "secret row"})
	var e *inventory.Error
	require.ErrorAs(t, taken, &e)
	assert.Equal(t, inventory.Conflict, e.Kind)
	assert.Equal(t, "that code is taken", e.Message.String(), "the engine's words stay in the log")
	assert.ErrorContains(t, taken, "add thing")

	assert.Equal(t, inventory.Unavailable, inventory.KindOf(store.Failure("op", "", &pgconn.PgError{Code: "40P01"})))
	assert.Equal(t, inventory.Unavailable, inventory.KindOf(store.Failure("op", "", driver.ErrBadConn)))
	unknown := store.Failure("op", "taken", sql.ErrTxDone)
	assert.Equal(t, inventory.Internal, inventory.KindOf(unknown))
	assert.ErrorIs(t, unknown, sql.ErrTxDone)
	assert.ErrorContains(t, unknown, "op: ")
}

// ledgerRows are rows that the tests of constraints start from.
var ledgerRows = []string{
	"INSERT INTO station (code, name, timezone, chain_seq, chain_hash) VALUES ('A', 'a', 'UTC', 0, '')",
	"INSERT INTO place (code, station, at_station, kind, purpose, name, holder, version) VALUES ('P', 'A', 'A', 'store'," +
		" 'issue', '', '', 1), ('Q', 'A', 'A', 'store', 'issue', '', '', 1)",
	"INSERT INTO item (code, name, search, category, unit, tracked_by, dated, single_use, controlled, made_months, " +
		"stowed_months, exposed_days, opened_days, inspect_days, training_cycles, inspection_points, lead_time_days, " +
		"version) VALUES ('I', '', '', 'other', '', 'lot', FALSE, FALSE, FALSE, 0, 0, 0, 0, 0, 0, '[]', 0, 1)",
	"INSERT INTO batch (item, batch_no, serial, device, end_printed, end_wording) VALUES ('I', 'L', '', FALSE, '', ''), " +
		"('I', '', 'S', TRUE, '', '')",
	"INSERT INTO lot (batch_id, device, exposed_days, training, unidentified) VALUES (1, FALSE, 0, FALSE, FALSE), (2, " +
		"TRUE, 0, FALSE, FALSE), (2, TRUE, 1, FALSE, FALSE)",
	"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('P', 1, 1, FALSE, 5), ('P', 2, 2, TRUE, 1)",
}

// TestDatabaseSaysNo writes what must not stand, past all of our code.
func TestDatabaseSaysNo(t *testing.T) {
	movement := func(seq, lot, into, batch, qty, from, to, reason, corrects string) string {
		hash := "'0123456789012345678901234567890123456789012345678901234567890123'"
		return "INSERT INTO movement (station, seq, lot_id, into_lot_id, batch_id, qty, from_place, to_place, reason, " +
			"cause, happened_at, recorded_at, by_name, witness, reference, note, corrects, prev_hash, hash) VALUES ('A', " +
			seq + ", " + lot + ", " + into + ", " + batch + ", " + qty + ", " + from + ", " + to + ", " + reason +
			", '', '2026-01-01T00:00:00.000000Z', '2026-01-01T00:00:00.000000Z', '', '', '', '', " + corrects + ", " + hash +
			", " + hash + ")"
	}
	rows := append(ledgerRows[:len(ledgerRows):len(ledgerRows)],
		movement("2", "1", "1", "1", "5", "'supplier'", "'P'", "'receipt'", "NULL"),
		movement("3", "1", "1", "1", "1", "'P'", "'supplier'", "'correction'", "1"))
	refusals := []struct {
		text string
		want any
	}{
		// in two places
		{"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('Q', 2, 2, TRUE, 1)", fault.Unique},
		// by another lot of it
		{"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('Q', 3, 2, TRUE, 1)", fault.Unique},
		{"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('Q', 2, 2, FALSE, 1)", fault.Foreign},
		{"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('Q', 2, 1, TRUE, 1)", fault.Foreign},
		{"UPDATE balance SET qty = 2 WHERE lot_id = 2", fault.Check},
		{"UPDATE balance SET qty = 0 WHERE lot_id = 1", fault.Check},
		{"UPDATE balance SET qty = -1 WHERE lot_id = 1", fault.Check},
		{"INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES ('NOWHERE', 1, 1, FALSE, 1)", fault.Foreign},
		{"INSERT INTO batch (item, batch_no, serial, device, end_printed, end_wording) VALUES ('I', '', 'S', TRUE, '', '')",
			fault.Unique},
		{"INSERT INTO batch (item, batch_no, serial, device, end_printed, end_wording) VALUES ('I', '', 'T', FALSE, '', '')",
			fault.Check},
		{"INSERT INTO batch (item, batch_no, serial, device, end_printed, end_wording) VALUES ('I', 'L', '', FALSE, '', '')",
			fault.Unique},
		{"INSERT INTO lot (batch_id, device, exposed_days, training, unidentified) VALUES (1, FALSE, 0, FALSE, FALSE)",
			fault.Unique},
		{"INSERT INTO lot (batch_id, device, exposed_days, training, unidentified) VALUES (1, TRUE, 9, FALSE, FALSE)",
			fault.Foreign},
		// a number of the chain twice
		{movement("2", "1", "1", "1", "1", "'P'", "'Q'", "'transfer'", "NULL"), fault.Unique},
		{movement("4", "1", "1", "1", "1", "'P'", "'Q'", "'correction'", "1"), fault.Unique},   // corrected twice
		{movement("4", "1", "2", "1", "1", "'P'", "'Q'", "'transfer'", "NULL"), fault.Foreign}, // into another batch
		{movement("4", "1", "1", "1", "0", "'P'", "'Q'", "'transfer'", "NULL"), fault.Check},   // nothing moved
		{movement("4", "1", "1", "1", "1", "'P'", "'P'", "'transfer'", "NULL"), fault.Check},   // nowhere to
		{movement("4", "1", "1", "1", "1", "'P'", "'Q'", "'transfer'", "2"), fault.Check},      // corrects, and is none
		// a correction of nothing
		{movement("4", "1", "1", "1", "1", "'P'", "'Q'", "'correction'", "NULL"), fault.Check},
		{movement("4", "1", "1", "1", "1", "'P'", "'NOWHERE'", "'stow'", "NULL"), fault.Foreign},
		{"DELETE FROM lot WHERE id = 1", fault.Foreign},
		{"DELETE FROM place WHERE code = 'P'", fault.Foreign},
		{"UPDATE station SET chain_seq = 1 WHERE code = 'A'", fault.Check}, // a number without a hash
		{"INSERT INTO place (code, kind, purpose, name, holder, version) VALUES ('elsewhere', 'used', '', '', '', 1)",
			fault.Check},
		{"UPDATE place SET kind = 'cellar' WHERE code = 'P'", fault.Check},
	}
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		for _, text := range rows {
			_, err := db.ExecContext(t.Context(), text)
			require.NoError(t, err, text)
		}
		for _, r := range refusals {
			_, err := db.ExecContext(t.Context(), r.text)
			assert.Equal(t, r.want, fault.Of(err), "%s\n%v", r.text, err)
		}
	})
}

// TestStrictTables writes a text where a number belongs; an ordinary SQLite
// table would take it.
func TestStrictTables(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		db, _ := store.Pools(s)
		_, err := db.ExecContext(context.Background(), "UPDATE place SET version = 'many' WHERE code = 'used'")
		require.Error(t, err)
		assert.Equal(t, inventory.Internal, inventory.KindOf(store.Failure("op", "", err)), "no input should get this far")
	})
}

// TestStorageFull: where no room is left a write says so, and nothing else than that is lost.
func TestStorageFull(t *testing.T) {
	s, err := store.Open(t.Context(), storetest.Database(t, store.SQLite), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	writes, _ := store.Pools(s)
	_, err = writes.ExecContext(t.Context(), "PRAGMA max_page_count = 1") // as many as there are
	require.NoError(t, err)
	add := func(i int) error {
		return s.Write(t.Context(), func(_ context.Context, w inventory.Writer) error {
			return w.AddStation(inventory.Station{Code: fmt.Sprintf("S%d", i), Name: strings.Repeat("long ", 20),
				Timezone: "UTC"})
		})
	}
	kept := 0
	for err = add(0); err == nil; err = add(kept) {
		kept++
		require.Less(t, kept, 10_000, "room without end")
	}
	assert.Equal(t, inventory.StorageFull, inventory.KindOf(err), "%v", err)
	require.NoError(t, s.Read(t.Context(), func(_ context.Context, r inventory.Reader) error {
		all, err := r.Stations()
		assert.Len(t, all, kept)
		return err
	}))
}

// TestCannotBeWritten: a file that may only be read any more, or that is damaged, is no fault of who asks, and told to
// who keeps the service.
func TestCannotBeWritten(t *testing.T) {
	s := storetest.OpenSQLite(t)
	writes, _ := store.Pools(s)
	_, err := writes.ExecContext(t.Context(), "PRAGMA query_only(1)")
	require.NoError(t, err)
	err = s.Probe(t.Context())
	assert.Equal(t, inventory.Unavailable, inventory.KindOf(err))
	assert.ErrorContains(t, err, "damaged or cannot be written")
}
