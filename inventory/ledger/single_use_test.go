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
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestSingleUse: a single-use device is used on one patient and then at the end
// of its life, whatever its dates say (UK MHRA DB2006(04)). Its serial number
// is never received, found or returned again.
func TestSingleUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "2035-01")
		stowed := h.Move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow).IntoLotID
		d := h.Device(strap.ID)
		assert.Equal(t, []any{"fit for issue", true}, []any{d.Standing.String(), d.Fit})
		h.Pass(time.Hour)
		_, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-7",
			SeenPosition: h.Bag("N-01").Position,
			Lines:        []inventory.UseLine{{LotID: stowed, Qty: 1}}}, "")
		require.NoError(t, err)
		d = h.Device(strap.ID)
		assert.Equal(t, []any{"used", false, 0}, []any{d.Standing.String(), d.Fit, len(d.Where)})
		assert.Equal(t, "2032-06-14", d.UsableThrough.String(), "its dates alone would let it live on")

		for _, place := range []string{"NORTH-STORE", "SOUTH-STORE", "NORTH-QUARANTINE", "NORTH-TRAINING"} {
			for _, serial := range []string{"X-1", "x-1", " X-1 ", "X -1"} {
				before := h.Everything()
				_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: place, Item: "STRAP", Serial: serial,
					Qty: 1})
				inventorytest.RequireKind(t, inventory.Conflict, err)
				assert.Equal(t, before, h.Everything())
			}
		}
		for _, lot := range []int64{strap.ID, stowed} {
			for _, from := range []string{"found", "lost"} {
				h.Refuse(inventory.Conflict, fixture.Back(lot, from, "NORTH-STORE", inventory.ReasonFound))
			}
			h.Refuse(inventory.Conflict, fixture.Back(lot, "used", "NORTH-STORE", inventory.ReasonReturn))
			h.Refuse(inventory.Conflict, fixture.Back(lot, "N-01", "NORTH-QUARANTINE", inventory.ReasonUsed))
		}
		_, err = h.S.Ledger.Inspect(h.Ctx, fixture.Keeper, strap.ID,
			ledger.InspectionReport{Points: inventorytest.Answers(lists.WindlassPoints...)})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		c, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "STRAP", Serial: "X-1", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusToReview, c.Status, "seen again, it is the quartermaster's to decide")

		other, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "TQ",
			Serial: "X-1",
			Qty:    1})
		require.NoError(t, err, "another item may bear the same number")
		assert.NotEqual(t, strap.Batch.ID, other.Batch.ID)
		h.Verify()
	})
}

// TestUsedByMistake: a use that was typed wrongly is corrected, and nothing
// else brings the device back.
func TestUsedByMistake(t *testing.T) {
	t.Parallel()
	h := fixture.NewDispensary(t, storetest.OpenSQLite(t))
	strap := h.Receive("STRAP", "X-1", 1, "")
	stowed := h.Move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	used := h.Move(stowed.IntoLotID, 1, "N-01", "used", inventory.ReasonUsed)
	undo := fixture.Back(stowed.IntoLotID, "used", "N-01", inventory.ReasonCorrection)
	undo.Corrects = used.ID
	_, err := h.S.Ledger.Move(h.Ctx, h.Signed(fixture.Keeper, "Wil"), []inventory.Movement{undo})
	inventorytest.RequireFields(t, err, "movements[0].note")
	undo.Note = "it was another one"
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo})
	assert.Equal(t, inventory.Invalid, inventory.KindOf(err), "one person alone")
	_, err = h.S.Ledger.Move(h.Ctx, h.Signed(fixture.Keeper, "Wil"), []inventory.Movement{undo})
	require.NoError(t, err)
	assert.Equal(t, "N-01", h.Where(strap.ID))
	story := h.Lot(strap.ID)
	assert.Empty(t, story.Incidents, "what was corrected was no use")
	undo = fixture.Back(stowed.IntoLotID, "N-01", "NORTH-STORE", inventory.ReasonCorrection)
	undo.Corrects = stowed.ID
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo})
	require.NoError(t, err, "then the one before it is the latest")
	assert.Equal(t, strap.ID, h.Device(strap.ID).ID, "and it is the lot that it was")
	h.Verify()
}

// TestExposure: days on a belt are summed, and the device is past its end when
// they are used up. Sources: carried outside, exposed, 57 % of windlass
// tourniquets worked against 95.2 % of controls, and carried inside a kit no
// less than controls (Weppner, Lang, Sunday and Debiasse, abstract; Military
// Medicine 2013: from memory); the limit itself is the owner's policy.
func TestExposure(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	strap := h.Receive("STRAP", "X-1", 1, "")
	riding := h.Move(strap.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
	h.Pass(20 * 24 * time.Hour)
	d := h.Device(strap.ID)
	assert.Equal(t, []any{"2027-07-13", inventory.RuleExposed, true}, []any{d.UsableThrough.String(), d.Rule,
		d.Ends[0].Policy})
	inside := h.Move(riding.IntoLotID, 1, "N-BELT", "N-01", inventory.ReasonStow)
	d = h.Device(strap.ID)
	assert.Equal(t, []any{21, inventory.RuleStowed}, []any{d.ExposedDays, d.Rule}, "inside a bag the clock stands still")
	h.Pass(30 * 24 * time.Hour)
	h.Move(inside.IntoLotID, 1, "N-01", "N-BELT", inventory.ReasonTransfer)
	h.Pass(8 * 24 * time.Hour)
	assert.True(t, h.Device(strap.ID).Fit, "on its last day")
	h.Pass(24 * time.Hour)
	d = h.Device(strap.ID)
	assert.Equal(t, []any{"expired", false}, []any{d.Standing.String(), d.Fit})
	h.Verify()
}
