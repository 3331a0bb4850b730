package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// lateCheck counts what lay in the bag an hour ago, one dressing missing, and
// arrives after two dressings were used.
func lateCheck(h *fixture.Stowed) inventory.Check {
	c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 5, inventory.CountMissing)
	c.HappenedAt, c.SealSet = h.Now, ""
	h.Pass(time.Hour)
	h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2}))
	c = h.Record(c)
	require.Equal(h.T, inventory.StatusToReview, c.Status)
	return c
}

func decide(h *fixture.Stowed, id int64, d shift.CheckDecision) (inventory.Check, error) {
	return h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, id, d)
}

// TestDecidePostCarriesTheDifferenceOver: one was missing an hour ago, two were
// used since; three lie there now.
func TestDecidePostCarriesTheDifferenceOver(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		late := lateCheck(h)
		beside, err := h.S.Shift.ReviewCheck(h.Ctx, fixture.Keeper, late.ID)
		require.NoError(t, err)
		for _, row := range beside.Rows {
			if row.Lot.ID == h.Dressings.ID {
				assert.Equal(t, []int{6, 5, 4, 3}, []int{row.Expected, row.Counted, row.Now, row.Posted})
				assert.Equal(t, inventory.CheckLine{LotID: h.Dressings.ID, Counted: 3, Reason: inventory.CountMissing},
					row.Suggestion())
			}
		}
		c, err := decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "both are true"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, &inventory.Decision{Decision: inventory.DecideAccept, Reason: "both are true", By: "Quinn",
			RecordedAt: h.Now}, c.Decision)
		assert.Equal(t, 3, h.Holds("N-01")[h.Dressings.ID])
		assert.Equal(t, late.HappenedAt, h.Bag("N-01").LastFullCheck, "made an hour ago")

		again, err := h.S.Shift.Check(h.Ctx, fixture.Keeper, late.ID)
		require.NoError(t, err)
		assert.Equal(t, late.Lines, again.Lines, "what the crew counted is kept")
		_, err = decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "again"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		h.Verify()
	})
}

func TestDecideAdjustAndDismiss(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		late := lateCheck(h)
		counts := fixture.Counting(h.FullCheck(), h.Dressings.ID, 4, "").Lines
		counts = fixture.Counting(inventory.Check{Lines: counts}, h.Pens.ID, 0, inventory.CountMissing).Lines
		c, err := decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "counted again",
			Lines: counts,
			Found: []inventory.FoundLine{{Item: "PEN", Qty: 2, BatchNo: "P2"}}})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, counts, c.Decision.Counts)
		assert.Equal(t, 4, h.Holds("N-01")[h.Dressings.ID])
		assert.Zero(t, h.Holds("N-01")[h.Pens.ID])
		assert.Len(t, h.Holds("N-01"), 4)

		other := lateCheck(h)
		held, bag := h.Holds("N-01"), h.Bag("N-01")
		c, err = decide(h, other.ID, shift.CheckDecision{Decision: inventory.DecideReject, Reason: "a double"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusRejected, c.Status)
		assert.Equal(t, held, h.Holds("N-01"))
		assert.Equal(t, bag, h.Bag("N-01"))
		h.Verify()
	})
}

func TestDecideRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	late := lateCheck(h)
	before := h.Everything()
	post := shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "so"}
	_, err := decide(h, late.ID, shift.CheckDecision{Decision: "shrug"})
	inventorytest.RequireFields(t, err, "decision", "reason")
	_, err = decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "so"})
	inventorytest.RequireFields(t, err, "lines", "lines", "lines", "lines")
	_, err = decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "so",
		Lines: []inventory.CheckLine{{LotID: 999, Counted: 1}}})
	inventorytest.RequireFields(t, err, "lines[0].lot_id")
	_, err = decide(h, 999, post)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Crew, late.ID, post)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Shift.DecideCheck(h.Ctx, inventory.Actor{Name: "Sou", Role: inventory.Quartermaster,
		Stations: []string{"SOUTH"}}, late.ID, post)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	assert.Equal(t, before, h.Everything())
}

// TestDecidePostOfWhatCannotBe: three more were used than the ledger has left,
// so posting is refused and the check goes on waiting.
func TestDecidePostOfWhatCannotBe(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 1, inventory.CountMissing)
	h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2}))
	c = h.Record(c)
	before := h.Everything()
	_, err := decide(h, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "so"})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	assert.Equal(t, before, h.Everything())
}

// TestLateSealCheckHurtsNothing: a crew saw the right seal, a use opened the
// bag afterwards, and only then their check arrived and was posted: it says
// nothing of the seal that is on the bag now.
func TestLateSealCheckHurtsNothing(t *testing.T) {
	t.Parallel()
	for name, opens := range map[string]func(h *fixture.Stowed){
		"a use":        func(h *fixture.Stowed) { h.RecordUse(h.Use(inventory.UseLine{LotID: h.Pens.ID, Qty: 1})) },
		"a full check": func(h *fixture.Stowed) { c := h.FullCheck(); c.SealSet = ""; h.Record(c) },
		"a restock":    func(h *fixture.Stowed) { h.Restock("N-01", "", inventory.RestockLine{LotID: h.Pens.ID, Qty: 1}) },
		"a new seal":   func(h *fixture.Stowed) { h.Restock("N-01", "103") },
	} {
		t.Run(name, func(t *testing.T) {
			h := fixture.NewStowed(t, storetest.OpenSQLite(t))
			late := fixture.SealCheck(h.Bag("N-01").Position, "101")
			late.HappenedAt = h.Now
			h.Pass(time.Hour)
			opens(h)
			late = h.Record(late)
			require.Equal(t, inventory.StatusToReview, late.Status)
			before := h.Bag("N-01")
			_, err := decide(h, late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "it was in order then"})
			require.NoError(t, err)
			after := h.Bag("N-01")
			assert.Equal(t, late.HappenedAt, after.LastSealCheck)
			assert.Equal(t, []any{before.Seal, before.SealState}, []any{after.Seal, after.SealState})
			open, err := h.S.Storeroom.Observations(h.Ctx, fixture.Keeper, "N-01", inventory.ObservationFilter{Open: true})
			require.NoError(t, err)
			assert.Empty(t, open)
		})
	}
}

func TestDecideUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		lacking := h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 7}))
		stale := h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1})
		stale.HappenedAt = h.Now
		h.Pass(time.Minute)
		h.Move(h.Pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		stale = h.RecordUse(stale)

		_, err := h.S.Shift.DecideUse(h.Ctx, fixture.Crew, stale.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideEdit,
			Reason: "so", Lines: []inventory.UseLine{{LotID: h.Dressings.ID}}})
		inventorytest.RequireFields(t, err, "lines[0].qty")

		u, err := h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, stale.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, 5, h.Holds("N-01")[h.Dressings.ID])
		assert.Equal(t, stale.HappenedAt, h.Bag("N-01").LastUse)

		beside, err := h.S.Shift.ReviewUse(h.Ctx, fixture.Keeper, lacking.ID)
		require.NoError(t, err)
		require.Len(t, beside.Rows, 1)
		assert.Equal(t, 5, beside.Rows[0].Now)
		assert.True(t, beside.Rows[0].Short())

		lines := []inventory.UseLine{{LotID: h.Dressings.ID, Qty: 4}}
		u, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideEdit,
			Reason: "four, says the crew", Lines: lines})
		require.NoError(t, err)
		assert.Equal(t, lines, u.Decision.Used)
		assert.Equal(t, 7, u.Lines[0].Qty, "what the crew said is kept")
		assert.Equal(t, 1, h.Holds("N-01")[h.Dressings.ID])

		dismissed := h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2}))
		u, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, dismissed.ID, shift.UseDecision{Decision: inventory.DecideReject,
			Reason: "a double"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusRejected, u.Status)
		_, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, dismissed.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "after all"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		h.Verify()
	})
}
