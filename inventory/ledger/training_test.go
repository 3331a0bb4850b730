package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestTrainingCycles: classes add up, and the device has worn out with the last
// application that the owner allows: it counts no longer, and is not stowed.
func TestTrainingCycles(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "")
		class := inventory.TrainingUse{Cycles: 120, Class: "spring 2"}
		_, err := h.S.Ledger.Train(h.Ctx, fixture.Keeper, strap.ID, class)
		inventorytest.RequireKind(t, inventory.Conflict, err) // it is for issue still
		h.Move(strap.ID, 1, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
		h.Pass(time.Hour)
		u, err := h.S.Ledger.Train(h.Ctx, fixture.Keeper, strap.ID, class)
		require.NoError(t, err)
		assert.Equal(t, []any{"Quinn", 120, h.Now}, []any{u.By, u.Cycles, u.HappenedAt})
		d := h.Device(strap.ID)
		assert.Equal(t, []any{120, false, "fit for training only", true}, []any{d.Cycles, d.WornOut, d.Standing.String(),
			d.Fit})
		assert.Equal(t, 200, d.Life.TrainingCycles)

		h.Pass(time.Hour)
		class = inventory.TrainingUse{Cycles: 80, HappenedAt: h.Now.Add(-30 * time.Minute)}
		_, err = h.S.Ledger.Train(h.Ctx, fixture.Keeper, d.ID, class) // by its present lot, and told late
		require.NoError(t, err)
		d = h.Device(strap.ID)
		assert.Equal(t, []any{200, true, "worn out", false}, []any{d.Cycles, d.WornOut, d.Standing.String(), d.Fit})
		assert.Contains(t, inventorytest.Findings(h.Readiness("T-01")), "warn worn_out STRAP "+fixture.Id(d.ID)+" 1  ")
		assert.Equal(t, "120 applications in training, class spring 2", d.Story[2].Text.String())
		require.Len(t, d.TrainingUses, 2)
		assert.Equal(t, 80, d.TrainingUses[0].Cycles, "newest first")

		pl, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "T-01", lists.Outlook{})
		require.NoError(t, err)
		require.Len(t, pl.TakeOut, 1)
		assert.Equal(t, []any{"NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine, "X-1"}, []any{pl.TakeOut[0].To,
			pl.TakeOut[0].Reason, pl.TakeOut[0].Serial})
		h.Move(d.ID, 1, "T-01", "NORTH-TRAINING", inventory.ReasonReturn)
		h.Refuse(inventory.Conflict, fixture.Back(d.ID, "NORTH-TRAINING", "T-01", inventory.ReasonStow))
		h.Move(d.ID, 1, "NORTH-TRAINING", "disposed", inventory.ReasonDisposed)
		h.Verify()
	})
}

func TestTrainRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	strap, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-TRAINING", Item: "STRAP",
		Serial: "X-1", Qty: 1})
	require.NoError(t, err)
	try := func(by inventory.Actor, u inventory.TrainingUse) error {
		_, err := h.S.Ledger.Train(h.Ctx, by, strap.ID, u)
		assert.Zero(t, h.Device(strap.ID).Cycles)
		return err
	}
	inventorytest.RequireKind(t, inventory.SignedOut, try(fixture.Nobody, inventory.TrainingUse{Cycles: 1}))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Crew, inventory.TrainingUse{Cycles: 1}))
	inventorytest.RequireKind(t, inventory.Forbidden, try(inventory.Actor{Name: "Sou", Role: inventory.Quartermaster,
		Stations: []string{"SOUTH"}}, inventory.TrainingUse{Cycles: 1}))
	inventorytest.RequireFields(t, try(fixture.Keeper, inventory.TrainingUse{Class: "\x00"}), "cycles", "class")
	inventorytest.RequireFields(t, try(fixture.Keeper, inventory.TrainingUse{Cycles: 100001}), "cycles")
	inventorytest.RequireFields(t, try(fixture.Keeper, inventory.TrainingUse{Cycles: 1,
		HappenedAt: inventorytest.Noon.Add(time.Hour)}), "happened_at")
	h.Move(strap.ID, 1, "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine)
	// no class has what is set apart
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, inventory.TrainingUse{Cycles: 1}))
	_, err = h.S.Ledger.Train(h.Ctx, fixture.Keeper, 99, inventory.TrainingUse{Cycles: 1})
	inventorytest.RequireKind(t, inventory.NotFound, err)
}

// TestTrainingDeviceNeverReturns walks the ways on which a device could come
// back as what it was before it went to training.
func TestTrainingDeviceNeverReturns(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "")
		once := h.Move(strap.ID, 1, "NORTH-STORE", "lost", inventory.ReasonLost)
		// it would be training stock unasked
		h.Refuse(inventory.Conflict, fixture.Back(strap.ID, "lost", "NORTH-TRAINING", inventory.ReasonFound))
		found := h.Move(strap.ID, 1, "lost", "NORTH-STORE", inventory.ReasonFound)
		given := h.Move(strap.ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		correct := func(m inventory.Movement) inventory.Movement {
			undo := fixture.Back(m.IntoLotID, m.To, m.From, inventory.ReasonCorrection)
			undo.Corrects = m.ID
			return undo
		}
		h.Refuse(inventory.Conflict, correct(given))
		h.Refuse(inventory.Conflict, correct(found))
		h.Refuse(inventory.Conflict, correct(once))

		// Lost from training, it is known as lost again, and its older
		// movements and its older lot are no way back.
		lost := h.Move(given.IntoLotID, 1, "NORTH-TRAINING", "lost", inventory.ReasonLost)
		h.Refuse(inventory.Conflict, correct(once))
		h.Refuse(inventory.Conflict, correct(found))
		h.Refuse(inventory.Conflict, fixture.Back(strap.ID, "lost", "NORTH-STORE", inventory.ReasonFound))
		h.Refuse(inventory.Conflict, fixture.Back(strap.ID, "found", "N-01", inventory.ReasonFound))
		h.Refuse(inventory.Conflict, fixture.Back(given.IntoLotID, "lost", "N-01", inventory.ReasonFound))
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "STRAP",
			Serial: " x-1",
			Qty:    1})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{correct(lost)})
		require.NoError(t, err)
		assert.Equal(t, "NORTH-TRAINING", h.Where(strap.ID))

		// Seen in an issue bag by its serial number alone, it stops the bag.
		h.Pass(time.Hour)
		c, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "STRAP", Serial: "X-1", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		require.Len(t, h.Open("N-01"), 1)
		o := h.Open("N-01")[0]
		assert.Equal(t, []any{inventory.SawTrainingMark, given.IntoLotID}, []any{o.Kind, o.LotID})
		assert.Equal(t, "1 unit of Tourniquet, single use, serial X-1: marked for training, found in this bag",
			o.Text.String())
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "stop observation STRAP "+fixture.Id(given.IntoLotID)+
			" 0  ")
		assert.Equal(t, "NORTH-TRAINING", h.Where(strap.ID), "the ledger does not hold it there")
		h.Verify()
	})
}

// TestExpiredStockGoesToTraining: short-dated or expired issue stock is given
// in one step, from wherever it lies; medicines never are.
func TestExpiredStockGoesToTraining(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	dressings, tablets := h.Receive("DRESSING", "B1", 10, "2027-07"), h.Receive("TABLET", "M1", 10, "2027-07")
	h.Move(dressings.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Move(tablets.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Pass(60 * 24 * time.Hour)
	given := h.Move(dressings.ID, 4, "N-01", "NORTH-TRAINING", inventory.ReasonToTraining)
	h.Move(dressings.ID, 2, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
	assert.Equal(t, map[int64]int{given.IntoLotID: 4}, h.Holds("NORTH-TRAINING"))
	h.Refuse(inventory.Conflict, inventory.Movement{LotID: tablets.ID, Qty: 1, From: "N-01", To: "NORTH-TRAINING",
		Reason: inventory.ReasonToTraining})
	h.Refuse(inventory.Conflict, inventory.Movement{LotID: tablets.ID, Qty: 1, From: "NORTH-STORE", To: "T-01",
		Reason: inventory.ReasonToTraining})
	h.Verify()
}
