package ledger_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestReceiptCorrectable: a number is right down to what has left, and no further.
func TestReceiptCorrectable(t *testing.T) {
	for _, c := range []struct {
		received, held, qty int
		device              bool
		want                inventory.ErrorKind
	}{
		{500, 480, 50, false, ""}, {500, 480, 20, false, ""}, {500, 480, 19, false, inventory.Conflict},
		{500, 500, 0, false, ""}, {500, 499, 0, false, inventory.Conflict}, {50, 50, 500, false, ""},
		{50, 0, 51, false, ""}, {50, 70, 0, false, ""}, {50, 50, 50, false, inventory.Invalid},
		{50, 50, -1, false, inventory.Invalid}, {50, 50, inventory.MaxQty + 1, false, inventory.Invalid},
		{1, 1, 0, true, ""}, {1, 1, 2, true, inventory.Invalid},
	} {
		err := ledger.ReceiptCorrectable(c.received, c.held, ledger.ReceiptCorrection{Qty: c.qty, Reason: "looked"}, c.device)
		if c.want == "" {
			assert.NoError(t, err, "%+v", c)
		} else {
			inventorytest.RequireKind(t, c.want, err)
		}
	}
	for _, reason := range []string{"", strings.Repeat("x", inventory.MaxNote+1)} {
		inventorytest.RequireKind(t, inventory.Invalid, ledger.ReceiptCorrectable(5, 5, ledger.ReceiptCorrection{Qty: 4,
			Reason: reason}, false))
	}
}

// TestItemCorrectable: what counts and ages alike can have been mistaken for each other.
func TestItemCorrectable(t *testing.T) {
	plain := inventory.Item{Code: "A", TrackedBy: inventory.ByLot}
	for name, change := range map[string]func(*inventory.Item){
		"controlled": func(it *inventory.Item) { it.Controlled = true },
		"counted":    func(it *inventory.Item) { it.Unit = "box" },
		"tracked":    func(it *inventory.Item) { it.TrackedBy = inventory.BySerial },
		"single use": func(it *inventory.Item) { it.SingleUse = true },
		"stowed":     func(it *inventory.Item) { it.Life.StowedMonths = 12 },
		"exposed":    func(it *inventory.Item) { it.Life.ExposedDays = 3 },
		"opened":     func(it *inventory.Item) { it.Life.OpenedDays = 7 },
		"inspected":  func(it *inventory.Item) { it.Life.InspectDays = 90 },
		"trained":    func(it *inventory.Item) { it.Life.TrainingCycles = 20 },
	} {
		other := plain
		other.Code = "B"
		assert.NoError(t, ledger.ItemCorrectable(plain, other))
		change(&other)
		inventorytest.RequireKind(t, inventory.Conflict, ledger.ItemCorrectable(plain, other))
		inventorytest.RequireKind(t, inventory.Conflict, ledger.ItemCorrectable(other, plain))
		same := other
		assert.NoError(t, ledger.ItemCorrectable(other, same), name)
	}
	aged := plain
	aged.Code, aged.Life.MadeMonths = "B", 60
	assert.NoError(t, ledger.ItemCorrectable(plain, aged), "the date of manufacture is read from the pack")
}

// TestCorrectReceipt: the two records, and that no place falls below zero on the way.
func TestCorrectReceipt(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "A", 500, "2029-02")
	h.Move(lot.ID, 20, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Move(lot.ID, 7, "NORTH-STORE", "disposed", inventory.ReasonDisposed)
	ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{LotID: lot.ID},
		inventory.Page{Limit: 1})
	require.NoError(t, err)
	correct := func(by inventory.Actor, id int64, qty int) ([]inventory.Movement, error) {
		return h.S.Ledger.CorrectReceipt(h.Ctx, by, id, ledger.ReceiptCorrection{Qty: qty, Reason: "a 0 too many"})
	}
	_, err = correct(fixture.Crew, ms[0].ID, 50)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = correct(fixture.Keeper, ms[0].ID, 26)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = correct(fixture.Keeper, 9999, 50)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	done, err := correct(fixture.Keeper, ms[0].ID, 27)
	require.NoError(t, err)
	assert.Equal(t, []int{27, 500}, []int{done[0].Qty, done[1].Qty})
	assert.Equal(t, map[int64]int{}, h.Holds("NORTH-STORE"))
	assert.Equal(t, map[int64]int{lot.ID: 20}, h.Holds("N-01"))
	_, err = correct(fixture.Keeper, ms[0].ID, 30)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = correct(fixture.Keeper, done[1].ID, 30)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	h.Verify()
}

// TestCame: a device came unless each of its receipts was corrected.
func TestCame(t *testing.T) {
	in := func(id int64) inventory.Movement { return inventory.Movement{ID: id, Reason: inventory.ReasonReceipt} }
	undo := func(id, of int64) inventory.Movement {
		return inventory.Movement{ID: id, Reason: inventory.ReasonCorrection, Corrects: of}
	}
	sent := inventory.Movement{ID: 3, Reason: inventory.ReasonToSupplier}
	stow := inventory.Movement{ID: 2, Reason: inventory.ReasonStow}
	for _, c := range []struct {
		of   []inventory.Movement
		want bool
	}{
		{nil, false}, {[]inventory.Movement{in(1)}, true}, {[]inventory.Movement{in(1), undo(2, 1)}, false},
		{[]inventory.Movement{in(1), undo(2, 1), in(4)}, true}, {[]inventory.Movement{in(1), sent}, true},
		{[]inventory.Movement{in(1), sent, in(4), undo(5, 4)}, true},
		{[]inventory.Movement{in(1), undo(2, 1), in(4), undo(5, 4)}, false},
		{[]inventory.Movement{{ID: 1, Reason: inventory.ReasonOpening}, sent}, true},
		{[]inventory.Movement{in(1), stow, undo(4, 1)}, true},
	} {
		assert.Equal(t, c.want, ledger.Came(c.of), "%+v", c.of)
	}
}
