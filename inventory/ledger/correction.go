package ledger

import (
	"context"
	"slices"

	"stowkeeper/inventory"
)

// CorrectLot corrects what was typed of a lot's batch. What stood there before is kept with who, when and why, and
// notices are judged anew: a batch that turns out to be meant by one is unusable from then on. Refuses: Forbidden
// without keep_stock, and for a batch that was never at a station of the actor's; NotFound; Invalid by field, and
// where nothing differs; Conflict for units without a number, and for a number that another batch has. Locks the
// item.
func (s *Service) CorrectLot(ctx context.Context, by inventory.Actor, lot int64,
	in inventory.LotCorrection) (inventory.BatchCorrection, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.BatchCorrection, error) {
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return inventory.BatchCorrection{}, err
		}
		l, err := w.Lot(lot)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		if err := hadAtOwnStation(w, by, l.Batch); err != nil {
			return inventory.BatchCorrection{}, err
		}
		if err := w.LockItem(l.Item); err != nil {
			return inventory.BatchCorrection{}, err
		}
		old, err := w.Batch(l.Batch.ID) // again, now that others wait
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		u := NewUnit(w, by, s.now(), TwoSign)
		it, err := u.Item(old.Item)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		today, err := s.TodayAtFirst(w, by.StationsSeen())
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		if old.BatchNo == "" && old.Serial == "" {
			return inventory.BatchCorrection{}, inventory.Errorf(inventory.Conflict,
				"these units bear no number: identify them instead")
		}
		now, err := in.Applied(old).Batch(it, today)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		return u.correctBatch(old, now, in.Reason)
	})
}

// hadAtOwnStation refuses to correct a batch that was never at a station of the
// actor's.
func hadAtOwnStation(r inventory.Reader, by inventory.Actor, b inventory.Batch) error {
	stations := by.StationsSeen()
	if len(stations) == 0 {
		return nil
	}
	ms, err := r.Movements(inventory.MovementFilter{Batch: b.ID, Stations: stations}, inventory.Page{Limit: 1})
	if err == nil && len(ms) == 0 {
		return inventory.ErrNotYours()
	}
	return err
}

// correctBatch stores what is printed on a batch anew, keeps the correction,
// and judges the notices on the item anew.
func (u *Unit) correctBatch(old, now inventory.Batch, reason string) (inventory.BatchCorrection, error) {
	c := inventory.BatchCorrection{BatchID: old.ID, RecordedAt: u.Now, By: u.By.Name, Reason: reason, Old: old.Facts(),
		New: now.Facts()}
	var ps inventory.Problems
	inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
	ps.When(c.Old == c.New, "reason", "nothing differs from what is recorded")
	if err := ps.Err(); err != nil {
		return c, err
	}
	all, err := u.W.Batches(inventory.BatchFilter{Items: []string{old.Item}})
	if err != nil {
		return c, err
	}
	same := func(b inventory.Batch) bool {
		return b.ID != old.ID && now.Serial != "" && inventory.FoldNumber(b.Serial) == inventory.FoldNumber(now.Serial)
	}
	if slices.ContainsFunc(all, same) {
		return c, inventory.ErrReceived
	}
	now.ID = old.ID
	clear(u.lots)
	if c, err = u.W.CorrectBatch(now, c); err != nil {
		return c, err
	}
	return c, ApplyNotices(u.W, old.Item)
}

// Renamed gives a wrong field the name that it has in another request.
func Renamed(err error, from, to string) error {
	if inventory.KindOf(err) != inventory.Invalid || err == nil {
		return err
	}
	var ps inventory.Problems
	ps.Take("", err)
	for i := range ps {
		if ps[i].Path == from {
			ps[i].Path = to
		}
	}
	return ps.Err()
}

// TodayAtFirst returns today at the first of the stations, or of all where none is named, and by UTC where there is
// none. It matters only for lots that ride exposed, whose end moves with the day. It never refuses.
func (s *Service) TodayAtFirst(r inventory.Reader, stations []string) (inventory.Day, error) {
	all, err := r.Stations()
	if err != nil {
		return 0, err
	}
	for _, station := range all {
		if len(stations) == 0 || station.Code == stations[0] {
			return station.Today(s.now()), nil
		}
	}
	return s.now().InUTC(), nil
}
