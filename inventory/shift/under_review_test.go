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

// TestUnsignedCheckCountsAtOnce: one of two ampoules is missing, one crew member
// says so alone, and the bag does not go on being ready.
func TestUnsignedCheckCountsAtOnce(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewDispensary(t, s)
		_, err := h.S.Lists.CreateKitList(h.Ctx, fixture.Admin, inventory.KitList{Code: "PAIN", Name: "Pain relief",
			Lines: []inventory.Line{{Item: "AMP", Par: 2, Minimum: 2}}})
		require.NoError(t, err)
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Admin, inventory.Bag{Code: "A-01", Station: "NORTH", Name: "Pouch",
			KitList: "PAIN", Priority: 1})
		require.NoError(t, err)
		lot := h.ReceiveAmps(2)
		h.Amps(lot.ID, 2, "NORTH-STORE", "A-01", inventory.ReasonStow)
		require.Equal(t, inventory.Ready, h.Readiness("A-01").State)
		c, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, inventory.Check{Bag: "A-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("A-01").Position,
			Lines:        []inventory.CheckLine{{LotID: lot.ID, Reason: inventory.CountMissing}}}, "")
		require.NoError(t, err)
		require.Equal(t, inventory.StatusToReview, c.Status)
		r := h.Readiness("A-01")
		assert.Equal(t, []string{"stop below_minimum AMP 0 2  ", "stop report_under_review  0 2  "},
			inventorytest.Findings(r))
		h.Pass(time.Hour)
		_, err = h.S.Shift.DecideCheck(h.Ctx, h.Signed(fixture.Keeper, "Wil"), c.ID,
			shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "gone"})
		require.NoError(t, err)
		assert.Equal(t, []string{"stop below_minimum AMP 0 2  "}, inventorytest.Findings(h.Readiness("A-01")))
		h.Verify()
	})
}

// TestFailedDeviceRemoved: a crew's check waits and says that a splint failed;
// the quartermaster disposes of it. Accepting the check goes past it.
func TestFailedDeviceRemoved(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	late := h.inspecting(inventory.InspectedLine{LotID: h.splints[0].ID, Points: inventorytest.Answers("!frame whole")})
	late.HappenedAt = h.Now
	h.Pass(time.Minute)
	h.RecordUse(h.Use(inventory.UseLine{LotID: h.Pens.ID, Qty: 1}))
	late = h.Record(late)
	require.Equal(t, inventory.StatusToReview, late.Status)
	failed := "stop observation SPLINT " + fixture.Id(h.splints[0].ID) + " 0  "
	assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), failed)
	h.Move(h.splints[0].ID, 1, "N-01", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
	h.Move(h.splints[0].ID, 1, "NORTH-QUARANTINE", "disposed", inventory.ReasonDisposed)
	assert.NotContains(t, inventorytest.Findings(h.Readiness("N-01")), failed)
	c, err := decide(h.Stowed, late.ID, shift.CheckDecision{Decision: inventory.DecideAccept, Reason: "seen to"})
	require.NoError(t, err)
	assert.Equal(t, inventory.StatusAccepted, c.Status)
	assert.Zero(t, h.Holds("N-01")[h.Pens.ID], "and what was used since stays used")
	h.Verify()
}

// TestTrainingDeviceUnderReview: what is a training device by its serial number
// stops the bag, marked or not, while the check is to review.
func TestTrainingDeviceUnderReview(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	trainer := h.Receive("TQ", "T-1", 1, "")
	h.Move(trainer.ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
	late := h.FullCheck()
	late.HappenedAt, late.Found = h.Now, []inventory.FoundLine{{Item: "TQ", Serial: "T-1", Qty: 1}}
	h.Pass(time.Minute)
	h.Restock("N-01", "103")
	late = h.Record(late)
	require.Equal(t, inventory.StatusToReview, late.Status)
	assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "stop observation TQ 0 0  ")
	_, err := h.S.Shift.WithdrawCheck(h.Ctx, fixture.Crew, late.ID, "\x00")
	inventorytest.RequireFields(t, err, "reason")
	_, err = h.S.Shift.WithdrawCheck(h.Ctx, fixture.Crew, 999, "")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Shift.WithdrawUse(h.Ctx, fixture.Crew, 999, "")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Shift.WithdrawCheck(h.Ctx, fixture.Manager, late.ID, "")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	c, err := h.S.Shift.WithdrawCheck(h.Ctx, fixture.Crew, late.ID, "")
	require.NoError(t, err)
	assert.Equal(t, inventory.StatusWithdrawn, c.Status)
	assert.NotContains(t, inventorytest.Findings(h.Readiness("N-01")), "stop observation TQ 0 0  ")
}

// TestOpenedAndSealedAgain: a use that waits left the bag open; a new seal by a restock ends that.
func TestOpenedAndSealedAgain(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 70}))
	assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn no_seal  0 0  ")
	h.Restock("N-01", "103")
	assert.NotContains(t, inventorytest.Findings(h.Readiness("N-01")), "warn no_seal  0 0  ")
}
