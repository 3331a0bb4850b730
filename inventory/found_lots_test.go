package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestFoundDeviceAfterFoundUnits: units of a batch that are found do not keep
// a lost device later in the same check from being found from lost.
func TestFoundDeviceAfterFoundUnits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		h.move(h.tqs[0].ID, 1, "N-01", "lost", inventory.ReasonLost)
		c := counting(h.fullCheck(), h.dressings.ID, 7, inventory.CountFound)
		c = h.record(counting(c, h.tqs[0].ID, 1, inventory.CountFound))
		assert.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause)
		assert.Equal(t, 1, h.holds("N-01")[h.tqs[0].ID])
		assert.Equal(t, 7, h.holds("N-01")[h.dressings.ID])
		h.verify()
	})
}

// TestFoundOfTrainingOnly: units found in a bag for issue, of a batch that the
// service holds as training stock only, do not become issue stock.
func TestFoundOfTrainingOnly(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		lot := h.receive("GAUZE", "G7", 5, "2029-01")
		found := func(bag string) inventory.Check {
			c := h.fullCheck()
			if bag != "N-01" {
				c = inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: h.bag(bag).Position}
			}
			c.Found = []inventory.FoundLine{{Item: "GAUZE", BatchNo: "G7", EndPrinted: "2029-01", Qty: 1}}
			return c
		}
		h.move(lot.ID, 4, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		assert.Equal(t, inventory.StatusAccepted, h.record(found("N-01")).Status, "there is issue stock of it as well")
		for _, lot := range []int64{lot.ID} {
			h.move(lot, 1, "NORTH-STORE", "disposed", inventory.ReasonDisposed)
		}
		for lot := range h.holds("N-01") {
			if l, err := h.s.Stock.Lot(h.ctx, admin, lot); assert.NoError(t, err) && l.BatchNo == "G7" {
				h.move(lot, 1, "N-01", "disposed", inventory.ReasonDisposed)
			}
		}
		before := h.holds("N-01")
		c := h.record(found("N-01"))
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Equal(t, "the ledger has this batch as training stock only", c.ReviewBecause)
		assert.Equal(t, before, h.holds("N-01"))
		_, err := h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "as seen"})
		requireKind(t, inventory.Conflict, err)
		assert.Equal(t, inventory.StatusAccepted, h.record(found("T-01")).Status, "in a training bag it is what it was")
		h.verify()
	})
}

// TestHappenedLongAgo: a time before the calendar that is kept is a wrong field.
func TestHappenedLongAgo(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		for _, when := range []string{"0001-01-01T00:00:00Z", "1900-01-01T23:59:59Z"} {
			c := h.fullCheck()
			c.HappenedAt = at(when)
			h.refuseCheck(c, "happened_at")
			_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
				HappenedAt: at(when)})
			requireFields(t, err, "happened_at")
			_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{{LotID: h.dressings.ID, Qty: 1, From: "NORTH-STORE",
				To: "used", Reason: inventory.ReasonUsed, HappenedAt: at(when)}})
			requireFields(t, err, "movements[0].happened_at")
			_, err = h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I", HappenedAt: at(when),
				SeenPosition: h.bag("N-01").Position,
				Lines:        []inventory.UseLine{{LotID: h.dressings.ID, Qty: 1}}}, "")
			requireFields(t, err, "happened_at")
		}
		_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
			HappenedAt: at("1900-01-02T00:00:00Z")})
		require.NoError(t, err)
		h.pass(time.Hour)
		h.verify()
	})
}
