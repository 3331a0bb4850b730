package ledger

import (
	"slices"

	"stowkeeper/inventory"
)

// judgeReturn refuses a device that returns without the inspection it needs,
// and one that is stowed although an inspection is overdue.
func (u *Unit) judgeReturn(m inventory.Movement, it inventory.Item, lot inventory.Lot, from, to inventory.Place) error {
	switch {
	case !lot.Device() || to.Outside():
		return nil
	case m.Reason == inventory.ReasonFound:
		return u.judgeFound(lot, to)
	case inventory.NeedsPassing(it, lot, from, to):
		return u.judgePassed(lot, from)
	case m.Reason == inventory.ReasonOpening || to.Kind != inventory.KindBag && to.Kind != inventory.KindCarrier:
		return nil
	}
	station, err := u.CurrentStation(to)
	if err == nil && inventory.InspectionOverdue(it, lot, station.Today(m.HappenedAt)) {
		return inventory.Refuse(inventory.Conflict, "inspection due: inspect the device first")
	}
	return err
}

// judgePassed looks for the inspection that lets a device come back.
func (u *Unit) judgePassed(lot inventory.Lot, from inventory.Place) error {
	done, err := u.W.Inspections(inventory.BatchFilter{IDs: []int64{lot.Batch.ID}}, inventory.Page{})
	if err != nil {
		return err
	}
	came, err := u.lastMove(lot)
	if err != nil {
		return err
	}
	return inventory.MayReturn(from, done, came)
}

// lastMove returns the newest movement of a batch, none where it never moved.
func (u *Unit) lastMove(lot inventory.Lot) (inventory.Movement, error) {
	last, err := u.W.Movements(inventory.MovementFilter{Batch: lot.Batch.ID, Newest: true}, inventory.Page{Limit: 1})
	if err != nil || len(last) == 0 {
		return inventory.Movement{}, err
	}
	return last[0], nil
}

// judgeFound keeps a device that was set apart or away when it got lost from
// coming back past the inspection that it needs.
func (u *Unit) judgeFound(lot inventory.Lot, to inventory.Place) error {
	if to.Kind == inventory.KindQuarantine {
		return nil
	}
	last, err := u.lastMove(lot)
	if err != nil || last.ID == 0 {
		return err
	}
	lostFrom, err := u.Place(last.From)
	if err == nil && (lostFrom.Kind == inventory.KindQuarantine || lostFrom.Kind == inventory.KindAway) {
		return inventory.Refuse(inventory.Conflict, "put it in quarantine and inspect it first")
	}
	return err
}

// judgeCorrection judges what a correction would do to a device. Only its latest movement is corrected: an older one
// would bring back what the device was before, an issue device that has gone to training since. And it comes out of
// quarantine only as by any other movement.
func (u *Unit) judgeCorrection(orig inventory.Movement, undo inventory.Movement) error {
	lot, err := u.W.Lot(orig.LotID)
	if err != nil || !lot.Device() {
		return err
	}
	all, err := u.W.Movements(inventory.MovementFilter{Batch: lot.Batch.ID}, inventory.Page{})
	if err != nil {
		return err
	}
	undone := map[int64]bool{}
	for _, m := range all {
		undone[m.Corrects] = true
	}
	all = slices.DeleteFunc(all, func(m inventory.Movement) bool {
		return m.Reason == inventory.ReasonCorrection || undone[m.ID]
	})
	if n := len(all); n > 0 && all[n-1].ID > orig.ID {
		return inventory.Refuse(inventory.Conflict, "correct the device's latest record first: {1}", all[n-1].ID)
	}
	into, err := u.W.Lot(orig.IntoLotID)
	if err != nil {
		return err
	}
	if into.Training && !lot.Training {
		return inventory.Refuse(inventory.Conflict, "cannot be corrected: training stock is for good")
	}
	from, err := u.Place(undo.From)
	if err != nil {
		return err
	}
	to, err := u.Place(undo.To)
	if err != nil || from.Kind != inventory.KindQuarantine || to.Kind == inventory.KindQuarantine || to.Outside() {
		return err
	}
	return u.judgePassed(lot, from)
}
