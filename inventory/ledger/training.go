package ledger

import (
	"context"

	"stowkeeper/inventory"
)

// Train records a class's applications of a training device, by any of its lots. Refuses: Forbidden without
// keep_stock where it is; NotFound for the lot; Conflict for what is no device, is for issue, set apart or gone;
// Invalid by field. Locks the item.
func (s *Service) Train(ctx context.Context, by inventory.Actor, lot int64,
	in inventory.TrainingUse) (inventory.TrainingUse, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.TrainingUse, error) {
		return NewUnit(w, by, s.now(), TwoSign).train(lot, in)
	})
}

func (u *Unit) train(lot int64, in inventory.TrainingUse) (inventory.TrainingUse, error) {
	st, place, err := u.DeviceFor(lot, inventory.ActKeepStock)
	if err != nil {
		return in, err
	}
	if place.Purpose != inventory.ForTraining {
		return in, inventory.Refuse(inventory.Conflict, "move it to training stock first")
	}
	if place.Kind == inventory.KindQuarantine {
		return in, inventory.Refuse(inventory.Conflict, "inspect the device first")
	}
	var ps inventory.Problems
	ps.When(in.Cycles < 1 || in.Cycles > 100000, "cycles", "enter {1} to {2}", 1, 100000)
	inventory.CheckText(&ps, "class", in.Class, false, inventory.MaxName)
	if err := ps.Err(); err != nil {
		return in, err
	}
	if in.HappenedAt, err = Happened(in.HappenedAt, u.Now, "happened_at"); err != nil {
		return in, err
	}
	in.BatchID, in.LotID, in.RecordedAt, in.By = st.Lot.Batch.ID, st.Lot.ID, u.Now, u.By.Name
	if in, err = u.W.AddTrainingUse(in); err != nil {
		return in, err
	}
	return in, u.renewRecord(st.Lot.Batch)
}
