package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestOpenOneBottle: opening one bottle of fifty ends one bottle, and a trace
// of the batch finds all of them.
func TestOpenOneBottle(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		wash := h.Receive("WASH", "W1", 50, "2029-06")
		h.Move(wash.ID, 10, "NORTH-STORE", "N-01", inventory.ReasonStow)
		position := h.Bag("N-01").Position
		opened, err := h.S.Ledger.OpenUnits(h.Ctx, fixture.Crew, wash.ID, ledger.Opened{Place: "n-01", Qty: 1,
			Note: "for the drill"})
		require.NoError(t, err)
		assert.Equal(t, []any{wash.ID, wash.Batch.ID, inventorytest.Day("2027-06-14")}, []any{opened.Parent, opened.Batch.ID,
			opened.OpenedOn})
		assert.Equal(t, map[int64]int{wash.ID: 9, opened.ID: 1}, h.Holds("N-01"))
		assert.Equal(t, map[int64]int{wash.ID: 40}, h.Holds("NORTH-STORE"))
		assert.Greater(t, h.Bag("N-01").Position, position, "a crew that looked before is told")

		story := h.Lot(wash.ID)
		assert.Equal(t, "2029-06-30 printed", story.UsableThrough.String()+" "+string(story.Rule))
		require.Len(t, story.SameBatch, 1)
		ended := story.SameBatch[0]
		assert.Equal(t, "2027-07-12 opened", ended.UsableThrough.String()+" "+string(ended.Rule))
		assert.Len(t, ended.Ends, 2, "the printed date is listed as well")
		assert.Equal(t, 50, fixture.Units(story), "all of the batch")
		text := stock.MovementText(story.History[2])
		assert.Equal(t, "opened in N-01 (for the drill)", text.String())

		h.Pass(29 * 24 * time.Hour)
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn past_end WASH "+fixture.Id(opened.ID)+
			" 1 2027-07-12 opened")
		h.Verify()

		// A wrong one is corrected: the bottle is as the others again.
		undo := inventory.Movement{LotID: opened.ID, Qty: 1, From: "N-01", To: "N-01", Reason: inventory.ReasonCorrection,
			Corrects: story.History[2].ID}
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo})
		require.NoError(t, err)
		assert.Equal(t, map[int64]int{wash.ID: 10}, h.Holds("N-01"))
		h.Refuse(inventory.Conflict, undo)
		h.Verify()
	})
}

// TestFiveDressingsToTraining: giving five to training leaves the other
// forty-five fit for issue; a trace of the batch finds all fifty.
func TestFiveDressingsToTraining(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 50, "2029-06")
		h.Move(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
		given := h.Move(lot.ID, 5, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		h.Move(lot.ID, 1, "N-01", "used", inventory.ReasonUsed)
		story := h.Lot(lot.ID)
		assert.Equal(t, 49, fixture.Units(story), "one was used, which the trace tells too")
		assert.Len(t, story.Incidents, 1)
		it, err := h.S.Lists.Item(h.Ctx, fixture.Admin, "DRESSING")
		require.NoError(t, err)
		today := inventorytest.Day("2027-06-14")
		assert.True(t, inventory.Usable(it, story.Lot, today, inventory.ForIssue))
		require.Len(t, story.SameBatch, 1)
		assert.Equal(t, given.IntoLotID, story.SameBatch[0].ID)
		assert.False(t, inventory.Usable(it, story.SameBatch[0].Lot, today, inventory.ForIssue))
		assert.True(t, inventory.Usable(it, story.SameBatch[0].Lot, today, inventory.ForTraining))
		assert.Equal(t, story.History, h.Lot(given.IntoLotID).History, "from either of its lots")
		h.Verify()
	})
}

func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	wash, dressings := h.Receive("WASH", "W1", 5, "2029-06"), h.Receive("DRESSING", "B1", 5, "2029-06")
	fine := ledger.Opened{Place: "NORTH-STORE", Qty: 1}
	try := func(by inventory.Actor, lot int64, change func(*ledger.Opened)) error {
		in, before := fine, h.Everything()
		change(&in)
		_, err := h.S.Ledger.OpenUnits(h.Ctx, by, lot, in)
		assert.Equal(t, before, h.Everything())
		return err
	}
	as := func(*ledger.Opened) {}
	inventorytest.RequireKind(t, inventory.SignedOut, try(fixture.Nobody, wash.ID, as))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Manager, wash.ID, as))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Crew, wash.ID,
		func(o *ledger.Opened) { o.Place = "SOUTH-STORE" }))
	inventorytest.RequireKind(t, inventory.NotFound, try(fixture.Keeper, 99, as))
	inventorytest.RequireFields(t, try(fixture.Keeper, wash.ID, func(o *ledger.Opened) { o.Place = "NOWHERE" }), "place")
	inventorytest.RequireFields(t, try(fixture.Keeper, wash.ID, func(o *ledger.Opened) { o.Place = "used" }), "place")
	inventorytest.RequireFields(t, try(fixture.Keeper, wash.ID, func(o *ledger.Opened) {
		o.Qty, o.Note, o.HappenedAt = 0, "\x00",
			inventorytest.Noon.Add(time.Hour)
	}), "opened_at", "qty", "note")
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, wash.ID, func(o *ledger.Opened) { o.Qty = 6 }))
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, wash.ID,
		func(o *ledger.Opened) { o.Place = "N-01" }))
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, dressings.ID, as)) // no such limit
	opened, err := h.S.Ledger.OpenUnits(h.Ctx, fixture.Keeper, wash.ID, fine)
	require.NoError(t, err)
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, opened.ID, as))
}
