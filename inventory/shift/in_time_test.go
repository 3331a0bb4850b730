package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestDeskKeepsTimesInOrder: nothing leaves a place before it came there, whatever time is typed; a clock that is a
// little slow is put right, and what it said is kept.
func TestDeskKeepsTimesInOrder(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 10, "2029-02")
		came := h.Now
		h.Pass(2 * time.Hour)
		move := func(qty int, from, to string, reason inventory.Reason, at inventory.Instant) (inventory.Movement, error) {
			ms, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: lot.ID, Qty: qty, From: from, To: to,
				Reason: reason, HappenedAt: at, Note: "shelf"}})
			if err != nil {
				return inventory.Movement{}, err
			}
			return ms[0], nil
		}
		_, err := move(1, "NORTH-STORE", "N-01", inventory.ReasonStow, came.Add(-time.Hour))
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorIs(t, err, ledger.ErrNotThereYet)
		slow, err := move(1, "NORTH-STORE", "N-01", inventory.ReasonStow, came.Add(-4*time.Minute))
		require.NoError(t, err)
		assert.Equal(t, []any{came, "time sent: 2027-06-14T10:56:00Z; shelf"}, []any{slow.HappenedAt, slow.Note})
		stowed := came.Add(time.Hour)
		_, err = move(9, "NORTH-STORE", "N-02", inventory.ReasonStow, stowed)
		require.NoError(t, err)
		_, err = move(1, "N-02", "used", inventory.ReasonUsed, came.Add(30*time.Minute))
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = move(1, "N-02", "NORTH-STORE", inventory.ReasonReturn, stowed.Add(30*time.Minute))
		require.NoError(t, err)
		_, err = move(1, "NORTH-STORE", "N-01", inventory.ReasonStow, stowed.Add(10*time.Minute))
		inventorytest.RequireKind(t, inventory.Conflict, err) // it was in N-02 then
		back, err := move(1, "NORTH-STORE", "N-01", inventory.ReasonStow, stowed.Add(27*time.Minute))
		require.NoError(t, err)
		assert.Equal(t, stowed.Add(30*time.Minute), back.HappenedAt)

		wash := h.Receive("WASH", "W1", 2, "2029-02")
		_, err = h.S.Ledger.OpenUnits(h.Ctx, fixture.Keeper, wash.ID, ledger.Opened{Place: "NORTH-STORE", Qty: 1,
			HappenedAt: h.Now.Add(-time.Hour)})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		// Both in one request: the second is judged by the first.
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{
			{LotID: lot.ID, Qty: 4, From: "N-02", To: "N-01", Reason: inventory.ReasonTransfer,
				HappenedAt: stowed.Add(time.Minute)},
			{LotID: lot.ID, Qty: 6, From: "N-01", To: "N-02", Reason: inventory.ReasonTransfer,
				HappenedAt: stowed.Add(time.Minute)},
		})
		inventorytest.RequireKind(t, inventory.Conflict, err) // one of the six came half an hour later
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{
			{LotID: lot.ID, Qty: 4, From: "N-02", To: "N-01", Reason: inventory.ReasonTransfer,
				HappenedAt: stowed.Add(time.Minute)},
			{LotID: lot.ID, Qty: 5, From: "N-01", To: "N-02", Reason: inventory.ReasonTransfer,
				HappenedAt: stowed.Add(time.Minute)},
		})
		require.NoError(t, err)
		h.Verify()
		rep, err := h.S.Verify.Verify(h.Ctx)
		require.NoError(t, err)
		assert.Empty(t, rep.OutOfTime)
	})
}

// TestCrewKeepsTimesInOrder: a report from a phone whose clock is five minutes slow is taken; one from before the units
// came goes to review. Accepted, it stands at the time at which the units were there, and the crew's is kept.
func TestCrewKeepsTimesInOrder(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		more := h.Receive("DRESSING", "B2", 4, "2029-02")
		came := h.Now
		h.Move(more.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Pass(time.Hour)
		use := func(at inventory.Instant) inventory.Use {
			u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-1", HappenedAt: at,
				SeenPosition: h.Bag("N-01").Position, Lines: []inventory.UseLine{{LotID: more.ID, Qty: 1}}}, "")
			require.NoError(t, err)
			return u
		}
		last := func() inventory.Movement {
			story := h.Lot(more.ID)
			return story.History[len(story.History)-1]
		}
		soon := use(came.Add(-5 * time.Minute))
		assert.Equal(t, []any{inventory.StatusAccepted, came.Add(-5 * time.Minute)}, []any{soon.Status, soon.HappenedAt})
		assert.Equal(t, came, last().HappenedAt)
		early := use(came.Add(-6 * time.Minute))
		assert.Equal(t, []any{inventory.StatusToReview, inventory.MessageOf(ledger.ErrNotThereYet)}, []any{early.Status,
			early.ReviewBecause})
		_, err := h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, early.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "the phone's clock is slow"})
		require.NoError(t, err)
		assert.Equal(t, []any{came, "time sent: 2027-06-14T11:54:00Z; reported by Cleo"}, []any{last().HappenedAt,
			last().Note})

		c := h.FullCheck()
		c.HappenedAt = came.Add(-time.Hour)
		c = fixture.Counting(c, more.ID, 1, inventory.CountUsed)
		kept := h.Record(c)
		assert.Equal(t, inventory.StatusToReview, kept.Status)
		_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, kept.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "as it was"})
		require.NoError(t, err)
		assert.Equal(t, came, last().HappenedAt)
		h.Verify()
	})
}

// TestFailedInTime: a device that a crew found broken before it was in the bag goes to review with the check.
func TestFailedInTime(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	splint := h.Receive("SPLINT", "SP-1", 1, "")
	came := h.Now
	h.Move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Pass(time.Hour)
	c := h.FullCheck()
	c.HappenedAt = came.Add(-time.Hour)
	c.Inspections = []inventory.InspectedLine{{LotID: splint.ID, Points: inventorytest.Answers("!frame whole",
		"straps hold")}}
	kept := h.Record(c)
	assert.Equal(t, inventory.StatusToReview, kept.Status)
	_, err := h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, kept.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
		Reason: "as it was"})
	require.NoError(t, err)
	assert.Equal(t, "NORTH-QUARANTINE", h.Where(splint.ID))
	rep, err := h.S.Verify.Verify(h.Ctx)
	require.NoError(t, err)
	assert.Empty(t, rep.OutOfTime)
}
