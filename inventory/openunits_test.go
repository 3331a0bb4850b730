package inventory_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

func id(n int64) string { return strconv.FormatInt(n, 10) }

func (h *house) lot(n int64) stock.LotStory {
	l, err := h.s.Stock.Lot(h.ctx, admin, n)
	require.NoError(h.t, err)
	return l
}

// TestOpenOneBottle: opening one bottle of fifty ends one bottle, and a trace
// of the batch finds all of them.
func TestOpenOneBottle(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		wash := h.receive("WASH", "W1", 50, "2029-06")
		h.move(wash.ID, 10, "NORTH-STORE", "N-01", inventory.ReasonStow)
		position := h.bag("N-01").Position
		opened, err := h.s.Ledger.OpenUnits(h.ctx, crew, wash.ID, ledger.Opened{Place: "n-01", Qty: 1, Note: "for the drill"})
		require.NoError(t, err)
		assert.Equal(t, []any{wash.ID, wash.Batch.ID, day("2027-06-14")}, []any{opened.Parent, opened.Batch.ID,
			opened.OpenedOn})
		assert.Equal(t, map[int64]int{wash.ID: 9, opened.ID: 1}, h.holds("N-01"))
		assert.Equal(t, map[int64]int{wash.ID: 40}, h.holds("NORTH-STORE"))
		assert.Greater(t, h.bag("N-01").Position, position, "a crew that looked before is told")

		story := h.lot(wash.ID)
		assert.Equal(t, "2029-06-30 printed", story.UsableThrough.String()+" "+string(story.Rule))
		require.Len(t, story.SameBatch, 1)
		ended := story.SameBatch[0]
		assert.Equal(t, "2027-07-12 opened", ended.UsableThrough.String()+" "+string(ended.Rule))
		assert.Len(t, ended.Ends, 2, "the printed date is listed as well")
		assert.Equal(t, 50, units(story), "all of the batch")
		text := stock.MovementText(story.History[2])
		assert.Equal(t, "opened in N-01 (for the drill)", text)

		h.pass(29 * 24 * time.Hour)
		assert.Contains(t, findings(h.readiness("N-01")), "warn past_end WASH "+id(opened.ID)+" 1 2027-07-12 opened")
		h.verify()

		// A wrong one is corrected: the bottle is as the others again.
		undo := inventory.Movement{LotID: opened.ID, Qty: 1, From: "N-01", To: "N-01", Reason: inventory.ReasonCorrection,
			Corrects: story.History[2].ID}
		_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{undo})
		require.NoError(t, err)
		assert.Equal(t, map[int64]int{wash.ID: 10}, h.holds("N-01"))
		h.refuse(inventory.Conflict, undo)
		h.verify()
	})
}

// units adds up where the units of a batch are.
func units(l stock.LotStory) int {
	n := 0
	for _, of := range append([]stock.LotSummary{l.LotSummary}, l.SameBatch...) {
		for _, w := range of.Where {
			n += w.Qty
		}
	}
	return n
}

// TestFiveDressingsToTraining: giving five to training leaves the other
// forty-five fit for issue; a trace of the batch finds all fifty.
func TestFiveDressingsToTraining(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		lot := h.receive("DRESSING", "B1", 50, "2029-06")
		h.move(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
		given := h.move(lot.ID, 5, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		h.move(lot.ID, 1, "N-01", "used", inventory.ReasonUsed)
		story := h.lot(lot.ID)
		assert.Equal(t, 49, units(story), "one was used, which the trace tells too")
		assert.Len(t, story.Incidents, 1)
		it, err := h.s.Lists.Item(h.ctx, admin, "DRESSING")
		require.NoError(t, err)
		today := day("2027-06-14")
		assert.True(t, inventory.Usable(it, story.Lot, today, inventory.ForIssue))
		require.Len(t, story.SameBatch, 1)
		assert.Equal(t, given.IntoLotID, story.SameBatch[0].ID)
		assert.False(t, inventory.Usable(it, story.SameBatch[0].Lot, today, inventory.ForIssue))
		assert.True(t, inventory.Usable(it, story.SameBatch[0].Lot, today, inventory.ForTraining))
		assert.Equal(t, story.History, h.lot(given.IntoLotID).History, "from either of its lots")
		h.verify()
	})
}

func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	wash, dressings := h.receive("WASH", "W1", 5, "2029-06"), h.receive("DRESSING", "B1", 5, "2029-06")
	fine := ledger.Opened{Place: "NORTH-STORE", Qty: 1}
	try := func(by inventory.Actor, lot int64, change func(*ledger.Opened)) error {
		in, before := fine, h.everything()
		change(&in)
		_, err := h.s.Ledger.OpenUnits(h.ctx, by, lot, in)
		assert.Equal(t, before, h.everything())
		return err
	}
	as := func(*ledger.Opened) {}
	requireKind(t, inventory.SignedOut, try(nobody, wash.ID, as))
	requireKind(t, inventory.Forbidden, try(manager, wash.ID, as))
	requireKind(t, inventory.Forbidden, try(crew, wash.ID, func(o *ledger.Opened) { o.Place = "SOUTH-STORE" }))
	requireKind(t, inventory.NotFound, try(keeper, 99, as))
	requireFields(t, try(keeper, wash.ID, func(o *ledger.Opened) { o.Place = "NOWHERE" }), "place")
	requireFields(t, try(keeper, wash.ID, func(o *ledger.Opened) { o.Place = "used" }), "place")
	requireFields(t, try(keeper, wash.ID, func(o *ledger.Opened) {
		o.Qty, o.Note, o.HappenedAt = 0, "\x00",
			noon.Add(time.Hour)
	}), "opened_at", "qty", "note")
	requireKind(t, inventory.Conflict, try(keeper, wash.ID, func(o *ledger.Opened) { o.Qty = 6 }))
	requireKind(t, inventory.Conflict, try(keeper, wash.ID, func(o *ledger.Opened) { o.Place = "N-01" }))
	requireKind(t, inventory.Conflict, try(keeper, dressings.ID, as)) // no such limit
	opened, err := h.s.Ledger.OpenUnits(h.ctx, keeper, wash.ID, fine)
	require.NoError(t, err)
	requireKind(t, inventory.Conflict, try(keeper, opened.ID, as))
}
