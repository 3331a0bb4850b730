package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestSingleUse: a single-use device is used on one patient and then at the end
// of its life, whatever its dates say (UK MHRA DB2006(04)). Its serial number
// is never received, found or returned again.
func TestSingleUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		strap := h.receive("STRAP", "X-1", 1, "2035-01")
		stowed := h.move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow).IntoLotID
		d := h.device(strap.ID)
		assert.Equal(t, []any{"fit for issue", true}, []any{d.Standing, d.Fit})
		h.pass(time.Hour)
		_, err := h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-7",
			SeenPosition: h.bag("N-01").Position,
			Lines:        []inventory.UseLine{{LotID: stowed, Qty: 1}}}, "")
		require.NoError(t, err)
		d = h.device(strap.ID)
		assert.Equal(t, []any{"used, so its life has ended", false, 0}, []any{d.Standing, d.Fit, len(d.Where)})
		assert.Equal(t, "2032-06-14", d.UsableThrough.String(), "its dates alone would let it live on")

		for _, place := range []string{"NORTH-STORE", "SOUTH-STORE", "NORTH-QUARANTINE", "NORTH-TRAINING"} {
			for _, serial := range []string{"X-1", "x-1", " X-1 ", "X -1"} {
				before := h.everything()
				_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: place, Item: "STRAP", Serial: serial, Qty: 1})
				requireKind(t, inventory.Conflict, err)
				assert.Equal(t, before, h.everything())
			}
		}
		for _, lot := range []int64{strap.ID, stowed} {
			for _, from := range []string{"found", "lost"} {
				h.refuse(inventory.Conflict, back(lot, from, "NORTH-STORE", inventory.ReasonFound))
			}
			h.refuse(inventory.Conflict, back(lot, "used", "NORTH-STORE", inventory.ReasonReturn))
			h.refuse(inventory.Conflict, back(lot, "N-01", "NORTH-QUARANTINE", inventory.ReasonUsed))
		}
		_, err = h.s.Ledger.Inspect(h.ctx, keeper, strap.ID,
			ledger.InspectionReport{Points: answers(inventory.WindlassPoints...)})
		requireKind(t, inventory.Conflict, err)
		c, err := h.s.Shift.RecordCheck(h.ctx, crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "STRAP", Serial: "X-1", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusToReview, c.Status, "seen again, it is the quartermaster's to decide")

		other, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "TQ", Serial: "X-1",
			Qty: 1})
		require.NoError(t, err, "another item may bear the same number")
		assert.NotEqual(t, strap.Batch.ID, other.Batch.ID)
		h.verify()
	})
}

// TestUsedByMistake: a use that was typed wrongly is corrected, and nothing
// else brings the device back.
func TestUsedByMistake(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	strap := h.receive("STRAP", "X-1", 1, "")
	stowed := h.move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	used := h.move(stowed.IntoLotID, 1, "N-01", "used", inventory.ReasonUsed)
	undo := back(stowed.IntoLotID, "used", "N-01", inventory.ReasonCorrection)
	undo.Corrects = used.ID
	_, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{undo})
	require.NoError(t, err)
	assert.Equal(t, "N-01", h.where(strap.ID))
	story := h.lot(strap.ID)
	assert.Empty(t, story.Incidents, "what was corrected was no use")
	undo = back(stowed.IntoLotID, "N-01", "NORTH-STORE", inventory.ReasonCorrection)
	undo.Corrects = stowed.ID
	_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{undo})
	require.NoError(t, err, "then the one before it is the latest")
	assert.Equal(t, strap.ID, h.device(strap.ID).ID, "and it is the lot that it was")
	h.verify()
}

// TestExposure: days on a belt are summed, and the device is past its end when
// they are used up. Sources: carried outside, exposed, 57 % of windlass
// tourniquets worked against 95.2 % of controls, and carried inside a kit no
// less than controls (environmental-exposure study of military carry,
// abstract); the limit itself is the owner's policy.
func TestExposure(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	strap := h.receive("STRAP", "X-1", 1, "")
	riding := h.move(strap.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
	h.pass(20 * 24 * time.Hour)
	d := h.device(strap.ID)
	assert.Equal(t, []any{"2027-07-14", inventory.RuleExposed, true}, []any{d.UsableThrough.String(), d.Rule,
		d.Ends[0].Policy})
	inside := h.move(riding.IntoLotID, 1, "N-BELT", "N-01", inventory.ReasonStow)
	d = h.device(strap.ID)
	assert.Equal(t, []any{20, inventory.RuleStowed}, []any{d.ExposedDays, d.Rule}, "inside a bag the clock stands still")
	h.pass(30 * 24 * time.Hour)
	h.move(inside.IntoLotID, 1, "N-01", "N-BELT", inventory.ReasonTransfer)
	h.pass(10 * 24 * time.Hour)
	assert.True(t, h.device(strap.ID).Fit, "on its last day")
	h.pass(24 * time.Hour)
	d = h.device(strap.ID)
	assert.Equal(t, []any{"past its last usable day", false}, []any{d.Standing, d.Fit})
	h.verify()
}
