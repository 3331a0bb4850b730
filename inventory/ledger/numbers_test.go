package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestNumbersAreFolded: blanks around and inside a number as typed or scanned
// do not make another batch or device.
func TestNumbersAreFolded(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		for _, no := range []string{" B1", "B1\n", "\tB1 "} {
			lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
				BatchNo:    no,
				EndPrinted: "2028-02", Qty: 1})
			require.NoError(t, err)
			assert.Equal(t, h.Dressings.ID, lot.ID)
		}
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "TQ",
			Serial: " S1\r\n",
			Qty:    1})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		two, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
			BatchNo: "B  1", EndPrinted: "2028-02", Qty: 1})
		require.NoError(t, err)
		assert.Equal(t, "B 1", two.BatchNo)
		c := h.FullCheck()
		c.Found = []inventory.FoundLine{{Item: "DRESSING", BatchNo: " B1 ", EndPrinted: "2028-02", Qty: 1}}
		assert.Equal(t, inventory.StatusAccepted, h.Record(c).Status)
		found, err := h.S.Stock.Lots(h.Ctx, fixture.Admin, inventory.LotFilter{BatchNo: " B1\n"}, 0, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, found, 2, "who looks for a number finds it however it is written")
	})
}

// TestOneLine: names, numbers and references are one line; notes may be more.
func TestOneLine(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	for _, broken := range []string{"a\nb", "a\rb", "a\u2028b"} {
		_, err := h.S.Lists.CreateItem(h.Ctx, fixture.Admin, inventory.Item{Code: "X", Name: broken, Category: "marker",
			Unit:      "each",
			TrackedBy: inventory.ByLot})
		inventorytest.RequireFields(t, err, "name")
		_, err = h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
			Reference: broken, Note: broken})
		inventorytest.RequireFields(t, err, "reference")
		c := h.FullCheck()
		c.SealSet, c.Note = broken, broken
		h.RefuseCheck(c, "seal_set")
	}
}

// TestBatchesWithoutNumber: where no number is printed, another date is
// another batch.
func TestBatchesWithoutNumber(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		receive := func(made string) inventory.Lot {
			lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN",
				MadeOn: made,
				Qty:    1})
			require.NoError(t, err, made)
			return lot
		}
		none, older, newer := receive(""), receive("2026-01"), receive("2026-05")
		assert.Equal(t, []int64{none.ID, older.ID, newer.ID}, []int64{receive("").ID, receive("2026-01-01").ID,
			receive("2026-05").ID})
		assert.Len(t, h.Holds("NORTH-STORE"), 3)
		assert.Equal(t, "2026-05-01", newer.MadeOn.String())
		h.Verify()
	})
}
