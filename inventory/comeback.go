package inventory

import "slices"

// judgeReturn refuses a device that returns without the inspection it needs,
// and one that is stowed although an inspection is overdue.
func (p *poster) judgeReturn(m Movement, it Item, lot Lot, from, to Place) error {
	switch {
	case !lot.Device() || to.Outside():
		return nil
	case m.Reason == ReasonFound:
		return p.judgeFound(lot, to)
	case needsPassing(it, lot, from, to):
		return p.judgePassed(lot, from)
	case m.Reason == ReasonOpening || to.Kind != KindBag && to.Kind != KindCarrier:
		return nil
	}
	site, err := p.siteHere(to)
	if err == nil && inspectionOverdue(it, lot, site.Today(m.HappenedAt)) {
		return Errorf(Conflict, "the device's inspection is due: inspect it before it goes into a bag")
	}
	return err
}

// judgePassed looks for the inspection that lets a device come back.
func (p *poster) judgePassed(lot Lot, from Place) error {
	done, err := p.w.Inspections(lot.Batch.ID)
	if err != nil {
		return err
	}
	came, err := p.lastMove(lot)
	if err != nil {
		return err
	}
	return mayReturn(from, done, came)
}

// lastMove returns the newest movement of a batch, none where it never moved.
func (p *poster) lastMove(lot Lot) (Movement, error) {
	last, err := p.w.Movements(MovementFilter{Batch: lot.Batch.ID, Newest: true}, Page{Limit: 1})
	if err != nil || len(last) == 0 {
		return Movement{}, err
	}
	return last[0], nil
}

// judgeFound keeps a device that was set apart or away when it got lost from
// coming back past the inspection that it needs.
func (p *poster) judgeFound(lot Lot, to Place) error {
	if to.Kind == KindQuarantine {
		return nil
	}
	last, err := p.lastMove(lot)
	if err != nil || last.ID == 0 {
		return err
	}
	lostFrom, err := p.place(last.From)
	if err == nil && (lostFrom.Kind == KindQuarantine || lostFrom.Kind == KindAway) {
		return Errorf(Conflict, "the device was set apart or away when it got lost: find it into quarantine, and inspect it there")
	}
	return err
}

// judgeCorrection judges what a correction would do to a device. Only its
// latest movement is corrected: an older one would bring back what the device
// was before, an issue device that has gone to training since. And it comes out
// of quarantine only as by any other movement.
func (p *poster) judgeCorrection(orig Movement, undo Movement) error {
	lot, err := p.w.Lot(orig.LotID)
	if err != nil || !lot.Device() {
		return err
	}
	all, err := p.w.Movements(MovementFilter{Batch: lot.Batch.ID}, Page{})
	if err != nil {
		return err
	}
	undone := map[int64]bool{}
	for _, m := range all {
		undone[m.Corrects] = true
	}
	all = slices.DeleteFunc(all, func(m Movement) bool { return m.Reason == ReasonCorrection || undone[m.ID] })
	if n := len(all); n > 0 && all[n-1].ID > orig.ID {
		return Errorf(Conflict, "movement %d came after it: for a device only the latest movement is corrected", all[n-1].ID)
	}
	from, err := p.place(undo.From)
	if err != nil {
		return err
	}
	to, err := p.place(undo.To)
	if err != nil || from.Kind != KindQuarantine || to.Kind == KindQuarantine || to.Outside() {
		return err
	}
	return p.judgePassed(lot, from)
}
