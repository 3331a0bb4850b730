package shift_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestFoundDeviceAfterFoundUnits: units of a batch that are found do not keep
// a lost device later in the same check from being found from lost.
func TestFoundDeviceAfterFoundUnits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Move(h.Tqs[0].ID, 1, "N-01", "lost", inventory.ReasonLost)
		c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 7, inventory.CountFound)
		c = h.Record(fixture.Counting(c, h.Tqs[0].ID, 1, inventory.CountFound))
		assert.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause.String())
		assert.Equal(t, 1, h.Holds("N-01")[h.Tqs[0].ID])
		assert.Equal(t, 7, h.Holds("N-01")[h.Dressings.ID])
		h.Verify()
	})
}

// TestFoundOfTrainingOnly: units found in a bag for issue, of a batch that the
// service holds as training stock only, do not become issue stock.
func TestFoundOfTrainingOnly(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		lot := h.Receive("GAUZE", "G7", 5, "2029-01")
		found := func(bag string) inventory.Check {
			c := h.FullCheck()
			if bag != "N-01" {
				c = inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: h.Bag(bag).Position}
			}
			c.Found = []inventory.FoundLine{{Item: "GAUZE", BatchNo: "G7", EndPrinted: "2029-01", Qty: 1}}
			return c
		}
		h.Move(lot.ID, 4, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		assert.Equal(t, inventory.StatusAccepted, h.Record(found("N-01")).Status, "there is issue stock of it as well")
		for _, lot := range []int64{lot.ID} {
			h.Move(lot, 1, "NORTH-STORE", "disposed", inventory.ReasonDisposed)
		}
		for lot := range h.Holds("N-01") {
			if l, err := h.S.Stock.Lot(h.Ctx, fixture.Admin, lot); assert.NoError(t, err) && l.BatchNo == "G7" {
				h.Move(lot, 1, "N-01", "disposed", inventory.ReasonDisposed)
			}
		}
		before := h.Holds("N-01")
		c := h.Record(found("N-01"))
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Equal(t, "recorded as training stock only", c.ReviewBecause.String())
		assert.Equal(t, before, h.Holds("N-01"))
		_, err := h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "as seen"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.Equal(t, inventory.StatusAccepted, h.Record(found("T-01")).Status, "in a training bag it is what it was")
		h.Verify()
	})
}
