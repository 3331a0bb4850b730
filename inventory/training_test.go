package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestTrainingCycles: classes add up, and the device has worn out with the last
// application that the owner allows: it counts no longer, and is not stowed.
func TestTrainingCycles(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		strap := h.receive("STRAP", "X-1", 1, "")
		class := inventory.TrainingUse{Cycles: 120, Class: "spring 2"}
		_, err := h.s.Ledger.Train(h.ctx, keeper, strap.ID, class)
		requireKind(t, inventory.Conflict, err) // it is for issue still
		h.move(strap.ID, 1, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
		h.pass(time.Hour)
		u, err := h.s.Ledger.Train(h.ctx, keeper, strap.ID, class)
		require.NoError(t, err)
		assert.Equal(t, []any{"Quinn", 120, h.now}, []any{u.By, u.Cycles, u.HappenedAt})
		d := h.device(strap.ID)
		assert.Equal(t, []any{120, false, "fit for training only", true}, []any{d.Cycles, d.WornOut, d.Standing, d.Fit})
		assert.Equal(t, 200, d.Life.TrainingCycles)

		h.pass(time.Hour)
		class = inventory.TrainingUse{Cycles: 80, HappenedAt: h.now.Add(-30 * time.Minute)}
		_, err = h.s.Ledger.Train(h.ctx, keeper, d.ID, class) // by its present lot, and told late
		require.NoError(t, err)
		d = h.device(strap.ID)
		assert.Equal(t, []any{200, true, "worn out", false}, []any{d.Cycles, d.WornOut, d.Standing, d.Fit})
		assert.Contains(t, findings(h.readiness("T-01")), "warn worn_out STRAP "+id(d.ID)+" 1  ")
		assert.Equal(t, "120 applications in training, class spring 2", d.Story[2].Text)
		require.Len(t, d.TrainingUses, 2)
		assert.Equal(t, 80, d.TrainingUses[0].Cycles, "newest first")

		pl, err := h.s.Storeroom.RestockPlan(h.ctx, keeper, "T-01", lists.Outlook{})
		require.NoError(t, err)
		require.Len(t, pl.TakeOut, 1)
		assert.Equal(t, []any{"NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine, "X-1"}, []any{pl.TakeOut[0].To,
			pl.TakeOut[0].Reason, pl.TakeOut[0].Serial})
		h.move(d.ID, 1, "T-01", "NORTH-TRAINING", inventory.ReasonReturn)
		h.refuse(inventory.Conflict, back(d.ID, "NORTH-TRAINING", "T-01", inventory.ReasonStow))
		h.move(d.ID, 1, "NORTH-TRAINING", "disposed", inventory.ReasonDisposed)
		h.verify()
	})
}

func TestTrainRefuses(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	strap, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-TRAINING", Item: "STRAP",
		Serial: "X-1", Qty: 1})
	require.NoError(t, err)
	try := func(by inventory.Actor, u inventory.TrainingUse) error {
		_, err := h.s.Ledger.Train(h.ctx, by, strap.ID, u)
		assert.Zero(t, h.device(strap.ID).Cycles)
		return err
	}
	requireKind(t, inventory.SignedOut, try(nobody, inventory.TrainingUse{Cycles: 1}))
	requireKind(t, inventory.Forbidden, try(crew, inventory.TrainingUse{Cycles: 1}))
	requireKind(t, inventory.Forbidden, try(inventory.Actor{Name: "Sou", Role: inventory.Quartermaster,
		Stations: []string{"SOUTH"}}, inventory.TrainingUse{Cycles: 1}))
	requireFields(t, try(keeper, inventory.TrainingUse{Class: "\x00"}), "cycles", "class")
	requireFields(t, try(keeper, inventory.TrainingUse{Cycles: 100001}), "cycles")
	requireFields(t, try(keeper, inventory.TrainingUse{Cycles: 1, HappenedAt: noon.Add(time.Hour)}), "happened_at")
	h.move(strap.ID, 1, "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine)
	requireKind(t, inventory.Conflict, try(keeper, inventory.TrainingUse{Cycles: 1})) // no class has what is set apart
	_, err = h.s.Ledger.Train(h.ctx, keeper, 99, inventory.TrainingUse{Cycles: 1})
	requireKind(t, inventory.NotFound, err)
}

// TestTrainingDeviceNeverReturns walks the ways on which a device could come
// back as what it was before it went to training.
func TestTrainingDeviceNeverReturns(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		strap := h.receive("STRAP", "X-1", 1, "")
		once := h.move(strap.ID, 1, "NORTH-STORE", "lost", inventory.ReasonLost)
		// it would be training stock unasked
		h.refuse(inventory.Conflict, back(strap.ID, "lost", "NORTH-TRAINING", inventory.ReasonFound))
		found := h.move(strap.ID, 1, "lost", "NORTH-STORE", inventory.ReasonFound)
		given := h.move(strap.ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		correct := func(m inventory.Movement) inventory.Movement {
			undo := back(m.IntoLotID, m.To, m.From, inventory.ReasonCorrection)
			undo.Corrects = m.ID
			return undo
		}
		h.refuse(inventory.Conflict, correct(given))
		h.refuse(inventory.Conflict, correct(found))
		h.refuse(inventory.Conflict, correct(once))

		// Lost from training, it is known as lost again, and its older
		// movements and its older lot are no way back.
		lost := h.move(given.IntoLotID, 1, "NORTH-TRAINING", "lost", inventory.ReasonLost)
		h.refuse(inventory.Conflict, correct(once))
		h.refuse(inventory.Conflict, correct(found))
		h.refuse(inventory.Conflict, back(strap.ID, "lost", "NORTH-STORE", inventory.ReasonFound))
		h.refuse(inventory.Conflict, back(strap.ID, "found", "N-01", inventory.ReasonFound))
		h.refuse(inventory.Conflict, back(given.IntoLotID, "lost", "N-01", inventory.ReasonFound))
		_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "STRAP", Serial: " x-1",
			Qty: 1})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{correct(lost)})
		require.NoError(t, err)
		assert.Equal(t, "NORTH-TRAINING", h.where(strap.ID))

		// Seen in an issue bag by its serial number alone, it stops the bag.
		h.pass(time.Hour)
		c, err := h.s.Shift.RecordCheck(h.ctx, crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "STRAP", Serial: "X-1", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		require.Len(t, h.open("N-01"), 1)
		o := h.open("N-01")[0]
		assert.Equal(t, []any{inventory.SawTrainingMark, given.IntoLotID}, []any{o.Kind, o.LotID})
		assert.Equal(t, "1 unit of Tourniquet, single use, serial X-1, marked for training, found in this bag", o.Text)
		assert.Contains(t, findings(h.readiness("N-01")), "stop observation STRAP "+id(given.IntoLotID)+" 0  ")
		assert.Equal(t, "NORTH-TRAINING", h.where(strap.ID), "the ledger does not hold it there")
		h.verify()
	})
}

// TestExpiredStockGoesToTraining: short-dated or expired issue stock is given
// in one step, from wherever it lies; medicines never are.
func TestExpiredStockGoesToTraining(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	dressings, tablets := h.receive("DRESSING", "B1", 10, "2027-07"), h.receive("TABLET", "M1", 10, "2027-07")
	h.move(dressings.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.move(tablets.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.pass(60 * 24 * time.Hour)
	given := h.move(dressings.ID, 4, "N-01", "NORTH-TRAINING", inventory.ReasonToTraining)
	h.move(dressings.ID, 2, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
	assert.Equal(t, map[int64]int{given.IntoLotID: 4}, h.holds("NORTH-TRAINING"))
	h.refuse(inventory.Conflict, inventory.Movement{LotID: tablets.ID, Qty: 1, From: "N-01", To: "NORTH-TRAINING",
		Reason: inventory.ReasonToTraining})
	h.refuse(inventory.Conflict, inventory.Movement{LotID: tablets.ID, Qty: 1, From: "NORTH-STORE", To: "T-01",
		Reason: inventory.ReasonToTraining})
	h.verify()
}
