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

// lateCheck counts what lay in the bag an hour ago, one dressing missing, and
// arrives after two dressings were used.
func (h *stowed) lateCheck() inventory.Check {
	c := counting(h.fullCheck(), h.dressings.ID, 5, inventory.CountMissing)
	c.HappenedAt, c.SealSet = h.now, ""
	h.pass(time.Hour)
	h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 2}))
	c = h.record(c)
	require.Equal(h.t, inventory.StatusToReview, c.Status)
	return c
}

func (h *stowed) decide(id int64, d shift.CheckDecision) (inventory.Check, error) {
	return h.s.Shift.DecideCheck(h.ctx, keeper, id, d)
}

// TestDecidePostCarriesTheDifferenceOver: one was missing an hour ago, two were
// used since; three lie there now.
func TestDecidePostCarriesTheDifferenceOver(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		late := h.lateCheck()
		beside, err := h.s.Shift.ReviewCheck(h.ctx, keeper, late.ID)
		require.NoError(t, err)
		for _, row := range beside.Rows {
			if row.Lot.ID == h.dressings.ID {
				assert.Equal(t, []int{6, 5, 4, 3}, []int{row.Expected, row.Counted, row.Now, row.Posted})
				assert.Equal(t, inventory.CheckLine{LotID: h.dressings.ID, Counted: 3, Reason: inventory.CountMissing},
					row.Suggestion())
			}
		}
		c, err := h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "both are true"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, &inventory.Decision{Decision: inventory.DecideAccept, Reason: "both are true", By: "Quinn",
			RecordedAt: h.now}, c.Decision)
		assert.Equal(t, 3, h.holds("N-01")[h.dressings.ID])
		assert.Equal(t, late.HappenedAt, h.bag("N-01").LastFullCheck, "made an hour ago")

		again, err := h.s.Shift.Check(h.ctx, keeper, late.ID)
		require.NoError(t, err)
		assert.Equal(t, late.Lines, again.Lines, "what the crew counted is kept")
		_, err = h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "again"})
		requireKind(t, inventory.Conflict, err)
		h.verify()
	})
}

func TestDecideAdjustAndDismiss(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		late := h.lateCheck()
		counts := counting(h.fullCheck(), h.dressings.ID, 4, "").Lines
		counts = counting(inventory.Check{Lines: counts}, h.pens.ID, 0, inventory.CountMissing).Lines
		c, err := h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "counted again",
			Lines: counts,
			Found: []inventory.FoundLine{{Item: "PEN", Qty: 2, BatchNo: "P2"}}})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, counts, c.Decision.Counts)
		assert.Equal(t, 4, h.holds("N-01")[h.dressings.ID])
		assert.Zero(t, h.holds("N-01")[h.pens.ID])
		assert.Len(t, h.holds("N-01"), 4)

		other := h.lateCheck()
		held, bag := h.holds("N-01"), h.bag("N-01")
		c, err = h.decide(other.ID, shift.CheckDecision{Decision: inventory.DecideReject, Reason: "a double"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusRejected, c.Status)
		assert.Equal(t, held, h.holds("N-01"))
		assert.Equal(t, bag, h.bag("N-01"))
		h.verify()
	})
}

func TestDecideRefuses(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	late := h.lateCheck()
	before := h.everything()
	post := shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "so"}
	_, err := h.decide(late.ID, shift.CheckDecision{Decision: "shrug"})
	requireFields(t, err, "decision", "reason")
	_, err = h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "so"})
	requireFields(t, err, "lines", "lines", "lines", "lines")
	_, err = h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "so",
		Lines: []inventory.CheckLine{{LotID: 999, Counted: 1}}})
	requireFields(t, err, "lines[0].lot_id")
	_, err = h.decide(999, post)
	requireKind(t, inventory.NotFound, err)
	_, err = h.s.Shift.DecideCheck(h.ctx, crew, late.ID, post)
	requireKind(t, inventory.Forbidden, err)
	_, err = h.s.Shift.DecideCheck(h.ctx, inventory.Actor{Name: "Sou", Role: inventory.Quartermaster,
		Stations: []string{"SOUTH"}}, late.ID, post)
	requireKind(t, inventory.Forbidden, err)
	assert.Equal(t, before, h.everything())
}

// TestDecidePostOfWhatCannotBe: three more were used than the ledger has left,
// so posting is refused and the check goes on waiting.
func TestDecidePostOfWhatCannotBe(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	c := counting(h.fullCheck(), h.dressings.ID, 1, inventory.CountMissing)
	h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 2}))
	c = h.record(c)
	before := h.everything()
	_, err := h.decide(c.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "so"})
	requireKind(t, inventory.Conflict, err)
	assert.Equal(t, before, h.everything())
}

// TestLateSealCheckHurtsNothing: a crew saw the right seal, a use opened the
// bag afterwards, and only then their check arrived and was posted: it says
// nothing of the seal that is on the bag now.
func TestLateSealCheckHurtsNothing(t *testing.T) {
	t.Parallel()
	for name, opens := range map[string]func(h *stowed){
		"a use":        func(h *stowed) { h.recordUse(h.use(inventory.UseLine{LotID: h.pens.ID, Qty: 1})) },
		"a full check": func(h *stowed) { c := h.fullCheck(); c.SealSet = ""; h.record(c) },
		"a restock":    func(h *stowed) { h.restock("N-01", "", inventory.RestockLine{LotID: h.pens.ID, Qty: 1}) },
		"a new seal":   func(h *stowed) { h.restock("N-01", "103") },
	} {
		t.Run(name, func(t *testing.T) {
			h := newStowed(t, storetest.OpenSQLite(t))
			late := sealCheck(h.bag("N-01").Position, "101")
			late.HappenedAt = h.now
			h.pass(time.Hour)
			opens(h)
			late = h.record(late)
			require.Equal(t, inventory.StatusToReview, late.Status)
			before := h.bag("N-01")
			_, err := h.decide(late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "it was in order then"})
			require.NoError(t, err)
			after := h.bag("N-01")
			assert.Equal(t, late.HappenedAt, after.LastSealCheck)
			assert.Equal(t, []any{before.Seal, before.SealState}, []any{after.Seal, after.SealState})
			open, err := h.s.Storeroom.Observations(h.ctx, keeper, "N-01", inventory.ObservationFilter{Open: true})
			require.NoError(t, err)
			assert.Empty(t, open)
		})
	}
}

func TestDecideUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		lacking := h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 7}))
		stale := h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1})
		stale.HappenedAt = h.now
		h.pass(time.Minute)
		h.move(h.pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		stale = h.recordUse(stale)

		_, err := h.s.Shift.DecideUse(h.ctx, crew, stale.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Shift.DecideUse(h.ctx, keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Shift.DecideUse(h.ctx, keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideEdit,
			Reason: "so", Lines: []inventory.UseLine{{LotID: h.dressings.ID}}})
		requireFields(t, err, "lines[0].qty")

		u, err := h.s.Shift.DecideUse(h.ctx, keeper, stale.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, 5, h.holds("N-01")[h.dressings.ID])
		assert.Equal(t, stale.HappenedAt, h.bag("N-01").LastUse)

		beside, err := h.s.Shift.ReviewUse(h.ctx, keeper, lacking.ID)
		require.NoError(t, err)
		require.Len(t, beside.Rows, 1)
		assert.Equal(t, 5, beside.Rows[0].Now)
		assert.True(t, beside.Rows[0].Short())

		lines := []inventory.UseLine{{LotID: h.dressings.ID, Qty: 4}}
		u, err = h.s.Shift.DecideUse(h.ctx, keeper, lacking.ID, shift.UseDecision{Decision: inventory.DecideEdit,
			Reason: "four, says the crew", Lines: lines})
		require.NoError(t, err)
		assert.Equal(t, lines, u.Decision.Used)
		assert.Equal(t, 7, u.Lines[0].Qty, "what the crew said is kept")
		assert.Equal(t, 1, h.holds("N-01")[h.dressings.ID])

		dismissed := h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 2}))
		u, err = h.s.Shift.DecideUse(h.ctx, keeper, dismissed.ID, shift.UseDecision{Decision: inventory.DecideReject,
			Reason: "a double"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusRejected, u.Status)
		_, err = h.s.Shift.DecideUse(h.ctx, keeper, dismissed.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "after all"})
		requireKind(t, inventory.Conflict, err)
		h.verify()
	})
}
