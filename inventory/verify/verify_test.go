package verify_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/verify"
)

// books makes a SQLite file with a story in it and returns its name.
func books(t *testing.T) string {
	file := filepath.Join(t.TempDir(), "books.db")
	s := storetest.Open(t, file)
	h := fixture.NewStowed(t, s)
	h.Move(h.Dressings.ID, 4, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	h.Move(h.Dressings.ID, 1, "SOUTH-STORE", "S-01", inventory.ReasonStow)
	used := h.Move(h.Dressings.ID, 1, "S-01", "used", inventory.ReasonUsed)
	h.Pass(time.Hour)
	_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: h.Dressings.ID, Qty: 1, From: "used",
		To:     "S-01",
		Reason: inventory.ReasonCorrection, Corrects: used.ID}})
	require.NoError(t, err)
	h.Move(h.Dressings.ID, 2, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
	h.Receive("GAUZE", "G1", 3, "2029-01")
	rep, err := h.S.Verify.Verify(h.Ctx)
	require.NoError(t, err)
	require.Empty(t, rep.Faults)
	require.Equal(t, 14, rep.Movements)
	require.Equal(t, 4, rep.Bags)
	require.Positive(t, rep.Balances)
	require.NoError(t, s.Close())
	return file
}

// tamper copies the books, runs plain SQL on the copy without any of its
// constraints, and returns what verify finds.
func tamper(t *testing.T, file string, statements ...string) []verify.Fault {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	copied := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(copied, b, 0o600))
	db, err := sql.Open("sqlite", "file:"+copied+"?_pragma=foreign_keys(0)&_pragma=ignore_check_constraints(1)")
	require.NoError(t, err)
	for _, q := range statements {
		res, err := db.Exec(q)
		require.NoError(t, err, q)
		n, err := res.RowsAffected()
		require.NoError(t, err)
		require.Positive(t, n, q)
	}
	require.NoError(t, db.Close())
	s := storetest.Open(t, copied)
	rep, err := services.New(s, func() inventory.Instant { return inventorytest.Noon.Add(48 * time.Hour) },
		services.Options{}).Verify.Verify(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return rep.Faults
}

// names tells whether some fault names a row.
func names(faults []verify.Fault, row int) bool {
	for _, f := range faults {
		if f.Row == int64(row) && strings.Contains(f.String(), fmt.Sprintf("movement %d", row)) {
			return true
		}
	}
	return false
}

// columnsOf lists the columns of the movement table.
func columnsOf(t *testing.T, file string) []string {
	db, err := sql.Open("sqlite", file)
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query("SELECT name FROM pragma_table_info('movement')")
	require.NoError(t, err)
	defer rows.Close()
	var out []string
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		out = append(out, name)
	}
	require.NoError(t, rows.Err())
	return out
}

// otherValue is an expression for another value of a column, of its type.
var otherValue = map[string]string{
	"id": "id + 1000", "station": "CASE station WHEN 'NORTH' THEN 'SOUTH' ELSE 'NORTH' END", "seq": "seq + 1000",
	"lot_id": "lot_id % 5 + 1", "into_lot_id": "into_lot_id % 5 + 1",
	"batch_id": "batch_id % 4 + 1", "qty": "qty + 1",
	"from_place": "CASE from_place WHEN 'S-01' THEN 'N-02' ELSE 'S-01' END",
	"to_place":   "CASE to_place WHEN 'S-01' THEN 'N-02' ELSE 'S-01' END",
	"reason":     "CASE reason WHEN 'stow' THEN 'transfer' ELSE 'stow' END", "cause": "'other'",
	"happened_at": "'2027-01-01T00:00:00.000000Z'", "recorded_at": "'2027-01-01T00:00:00.000001Z'", "by_name": "'Eve'",
	"witness": "'Eve'", "reference": "'X'", "note": "'x'",
	"corrects": "CASE WHEN corrects IS NULL THEN 1 END", "prev_hash": "replace(hash, 'a', 'b')",
	"hash": "replace(hash, substr(hash, 1, 1), 'x')",
}

// TestVerifyNoticesEveryColumn alters each column of each movement in turn.
func TestVerifyNoticesEveryColumn(t *testing.T) {
	t.Parallel()
	file := books(t)
	columns := columnsOf(t, file)
	require.Len(t, columns, len(otherValue))
	for _, column := range columns {
		require.Contains(t, otherValue, column, "a column that this test does not know")
		rows := []int{1, 7, 11, 13, 14} // the first, a middle one, one that another corrects, one of a split, the last
		if column == "station" {
			rows = []int{7, 13, 14} // the numbers of the others are taken in the other chain, and the index says no
		}
		if inventorytest.Raced {
			rows = rows[len(rows)-2:]
		}
		for _, row := range rows {
			named := row
			if column == "id" {
				named += 1000
			}
			faults := tamper(t, file, fmt.Sprintf("UPDATE movement SET %s = %s WHERE id = %d", column, otherValue[column], row))
			assert.True(t, names(faults, named), "%s of movement %d: %v", column, row, faults)
		}
	}
}

// TestVerifyNoticesMissingRows removes each movement in turn: the row after it
// in its chain is named, or the one that is last now.
func TestVerifyNoticesMissingRows(t *testing.T) {
	t.Parallel()
	file := books(t)
	for row := 1; row <= 14; row++ {
		faults := tamper(t, file, fmt.Sprintf("DELETE FROM movement WHERE id = %d", row))
		named := false
		for other := 1; other <= 14; other++ {
			named = named || names(faults, other)
		}
		assert.True(t, named, "movement %d: %v", row, faults)
	}
	faults := tamper(t, file, "DELETE FROM movement WHERE station = 'SOUTH'")
	require.NotEmpty(t, faults)
	assert.Equal(t, "SOUTH", faults[0].Station, "a whole chain is gone, says its head")
}

// TestVerifyNoticesOrder swaps two rows: by their numbers in the chain, by
// their ids, and by all that they say.
func TestVerifyNoticesOrder(t *testing.T) {
	t.Parallel()
	file := books(t)
	seq := []string{"UPDATE movement SET seq = -seq WHERE id IN (5, 6)",
		"UPDATE movement SET seq = 11 - id WHERE id IN (5, 6)"}
	assert.True(t, names(tamper(t, file, seq...), 5))
	ids := []string{"UPDATE movement SET id = -id WHERE id IN (5, 6)",
		"UPDATE movement SET id = 11 + id WHERE id IN (-5, -6)"}
	assert.True(t, names(tamper(t, file, ids...), 5))
	both := []string{"UPDATE movement SET id = -id, seq = -seq WHERE id IN (5, 6)",
		"UPDATE movement SET id = 11 + id, seq = 11 + seq WHERE id IN (-5, -6)"}
	assert.True(t, names(tamper(t, file, both...), 5), "swapped with all that they say")
}

// TestVerifyNoticesRowsPutIn copies a movement to the end of its chain.
func TestVerifyNoticesRowsPutIn(t *testing.T) {
	t.Parallel()
	file := books(t)
	columns := strings.Join(columnsOf(t, file)[1:], ", ")
	faults := tamper(t, file, fmt.Sprintf("INSERT INTO movement (%s) SELECT %s FROM movement WHERE id = 1", columns,
		strings.Replace(columns, "seq", "seq + 1000", 1)))
	assert.True(t, names(faults, 15), "%v", faults)
}

// TestVerifyNoticesBalances alters, removes and invents what is kept beside
// the movements.
func TestVerifyNoticesBalances(t *testing.T) {
	t.Parallel()
	file := books(t)
	for _, q := range []string{
		"UPDATE balance SET qty = qty + 1 WHERE place = 'S-01'",
		"DELETE FROM balance WHERE place = 'NORTH-TRAINING'",
		"UPDATE balance SET place = 'N-02' WHERE place = 'N-01' AND lot_id = 1",
		"INSERT INTO balance (place, lot_id, batch_id, device, qty) SELECT 'N-02', lot_id, batch_id, device, 1 FROM " +
			"balance WHERE place = 'S-01'",
		"UPDATE station SET chain_seq = chain_seq + 1 WHERE code = 'NORTH'",
		"UPDATE station SET chain_hash = replace(chain_hash, substr(chain_hash, 1, 1), 'x') WHERE code = 'SOUTH'",
		"UPDATE lot SET training = 1 WHERE id = 2",
	} {
		assert.NotEmpty(t, tamper(t, file, q), q)
	}
	emptied := tamper(t, file, "DELETE FROM balance WHERE place = 'N-01'")
	texts := fmt.Sprint(emptied)
	assert.Contains(t, texts, "N-01")
	assert.Contains(t, texts, "not_ready by its balances", "readiness from the balances differs")
}

// TestVerifyOnBothEngines: after a story of every kind of movement the books
// are in order.
func TestVerifyOnBothEngines(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}))
		h.Move(h.Dressings.ID, 2, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		h.Pass(24 * time.Hour)
		rep, err := h.S.Verify.Verify(h.Ctx)
		require.NoError(t, err)
		assert.Empty(t, rep.Faults)
		assert.Equal(t, 10, rep.Movements)
	})
}

// TestVerifyNoticesRecords alters what is kept of inspections, classes and
// notices beside a batch, and what it follows from.
func TestVerifyNoticesRecords(t *testing.T) {
	file := filepath.Join(t.TempDir(), "records.db")
	s := storetest.Open(t, file)
	h := fixture.New(t, s)
	splint := h.Receive("SPLINT", "SP-1", 1, "")
	h.Inspect(fixture.Keeper, splint.ID, "", "frame whole", "straps hold")
	h.Move(splint.ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
	_, err := h.S.Ledger.Train(h.Ctx, fixture.Keeper, splint.ID, inventory.TrainingUse{Cycles: 12})
	require.NoError(t, err)
	h.Pass(time.Hour)
	h.Issue(inventory.Notice{Reference: "FSN-1", Action: inventory.NoticeWithdraw, Item: "SPLINT"})
	h.Issue(inventory.Notice{Reference: "FSN-2", Action: inventory.NoticeInspect, Item: "SPLINT"})
	h.Verify()
	require.NoError(t, s.Close())
	for _, q := range []string{
		"UPDATE batch SET inspected_on = '2027-06-13'", "UPDATE batch SET inspected_on = NULL",
		"UPDATE batch SET cycles = 13", "UPDATE batch SET inspect_by = NULL",
		"UPDATE batch SET withdrawn = ''", "UPDATE batch SET withdrawn = 'FSN-3' || char(31)",
		"UPDATE inspection SET passed = 0", "UPDATE training_use SET cycles = 11",
		"UPDATE notice SET status = 'cancelled', ended_at = issued_at", "DELETE FROM notice", "DELETE FROM training_use",
		"DELETE FROM inspection",
		"UPDATE notice SET action = 'inform' WHERE id = 2",
	} {
		assert.Contains(t, fmt.Sprint(tamper(t, file, q)), "batch 1 of SPLINT", q)
	}
}

// TestVerifyNoticesTheRegister alters each column of a balance check and of a
// later signature, and removes and invents them.
func TestVerifyNoticesTheRegister(t *testing.T) {
	file := filepath.Join(t.TempDir(), "register.db")
	s := storetest.Open(t, file)
	h := fixture.NewDispensary(t, s)
	lot := h.ReceiveAmps(9)
	h.Amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	check := func(counted int) {
		_, err := h.S.Register.RecordBalanceCheck(h.Ctx, h.Signed(fixture.Crew, "Wil"), inventory.BalanceCheck{Item: "AMP",
			Place: "N-01", Counted: counted, Note: "in the light"})
		require.NoError(t, err)
	}
	check(4)
	used, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-1",
		SeenPosition: h.Bag("N-01").Position, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
	require.NoError(t, err)
	require.Equal(t, inventory.StatusAccepted, used.Status)
	rows, err := h.S.Register.OwedRows(h.Ctx, fixture.Admin, nil)
	require.NoError(t, err)
	for _, name := range []string{"Wil", "Cleo"} {
		by, err := h.S.Account.SignAlone(h.Ctx, fixture.Crew, account.Signature{Person: name, PIN: fixture.Pins[name]},
			fixture.Reversed{})
		require.NoError(t, err)
		_, err = h.S.Register.SignEntry(h.Ctx, by, rows[0].Entry)
		require.NoError(t, err)
	}
	h.Pass(time.Hour)
	check(4) // one more than there should be
	h.Verify()
	require.NoError(t, s.Close())
	for _, q := range []string{
		"UPDATE balance_check SET counted = 3 WHERE id = 2", "UPDATE balance_check SET expected = 4 WHERE id = 2",
		"UPDATE balance_check SET witness = 'Eve' WHERE id = 1",
		"UPDATE balance_check SET by_name = 'Eve' WHERE id = 1",
		"UPDATE balance_check SET place = 'NORTH-STORE' WHERE id = 1",
		"UPDATE balance_check SET after_movement = 1 WHERE id = 2",
		"UPDATE balance_check SET recorded_at = '2027-01-01T00:00:00.000000Z' WHERE id = 1",
		"DELETE FROM balance_check WHERE id = 2",
		"UPDATE balance_check SET counted = 3, expected = 3 WHERE id = 2; UPDATE history_entry SET detail = 'AMP, 3 " +
			"counted, 4 expected' WHERE detail LIKE '%4 counted, 3%'",
		"UPDATE register_signature SET person = 'Eve' WHERE person = 'Wil'",
		"UPDATE register_signature SET recorded_at = '2027-01-01T00:00:00.000000Z' WHERE person = 'Wil'",
		"DELETE FROM register_signature WHERE person = 'Wil'", "DELETE FROM history_entry WHERE kind = 'entry_signed'",
	} {
		faults := tamper(t, file, strings.Split(q, "; ")...)
		assert.NotEmpty(t, faults, q)
	}
}

// TestANameIsErased: the name of one who left gives way to another, wherever it
// stands, and the chains hold: people stand there by a number.
func TestANameIsErased(t *testing.T) {
	file := filepath.Join(t.TempDir(), "names.db")
	s := storetest.Open(t, file)
	h := fixture.NewDispensary(t, s)
	lot := h.ReceiveAmps(9)
	h.Amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	_, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-1",
		SeenPosition: h.Bag("N-01").Position, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "k-1")
	require.NoError(t, err)
	n := h.Issue(inventory.Notice{Reference: "R-1", Action: inventory.NoticeWithdraw, Item: "DRESSING"})
	cleo := inventory.Actor{Name: "Cleo", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
	_, err = h.S.Notice.Answer(h.Ctx, cleo, n.ID, "NORTH", 0, "")
	require.NoError(t, err)
	key := inventory.RequestKey{Key: "k-2", Principal: cleo.Principal(), Method: "POST", Path: "/notices"}
	_, _, err = h.S.Ledger.Once(h.Ctx, key, "", func(context.Context) (inventory.Answer, error) {
		return inventory.Answer{Status: 201}, nil
	})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	defer db.Close()
	columns, err := db.Query(`SELECT m.name, c.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c
WHERE m.type = 'table' AND c.type = 'TEXT'`)
	require.NoError(t, err)
	var changes []string
	for columns.Next() {
		var table, column string
		require.NoError(t, columns.Scan(&table, &column))
		changes = append(changes, fmt.Sprintf("UPDATE %[1]s SET %[2]s = CASE %[2]s WHEN 'Cleo' THEN 'former 1' "+
			"WHEN 'cleo' THEN 'former 1' WHEN 'person:Cleo' THEN 'person:former 1' "+
			"ELSE replace(replace(%[2]s, ':Cleo/', ':former 1/'), '\"Cleo\"', '\"former 1\"') END "+
			"WHERE %[2]s LIKE '%%Cleo%%'", table, column))
	}
	require.NoError(t, columns.Err())
	changed := int64(0)
	for _, q := range changes {
		res, err := db.Exec(q)
		require.NoError(t, err, q)
		n, err := res.RowsAffected()
		require.NoError(t, err)
		changed += n
	}
	assert.Greater(t, changed, int64(8))
	rep, err := services.New(storetest.Open(t, file), h.S.Now, services.Options{}).Verify.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, rep.Faults)
}

// TestRowsOutOfTime: rows from before times had to be in order are listed, and are no faults.
func TestRowsOutOfTime(t *testing.T) {
	s := storetest.OpenSQLite(t)
	h := fixture.New(t, s)
	lot := h.Receive("DRESSING", "B1", 4, "2029-02")
	h.Pass(time.Hour)
	row := inventory.Movement{Station: "NORTH", LotID: lot.ID, Qty: 1, From: "NORTH-STORE", To: "N-01",
		Reason: inventory.ReasonStow, HappenedAt: h.Now.Add(-2 * time.Hour), RecordedAt: h.Now, By: "Quinn"}
	require.NoError(t, s.Write(h.Ctx, func(_ context.Context, w inventory.Writer) error {
		_, err := w.AppendMovements([]inventory.Movement{row})
		return err
	}))
	h.Move(lot.ID, 3, "NORTH-STORE", "N-02", inventory.ReasonStow)
	rep, err := h.S.Verify.Verify(h.Ctx)
	require.NoError(t, err)
	assert.Empty(t, rep.Faults)
	require.Len(t, rep.OutOfTime, 1)
	assert.Equal(t, "station NORTH, movement 2: by the times of both, lot 1 left NORTH-STORE before it came there",
		rep.OutOfTime[0].String())
}
