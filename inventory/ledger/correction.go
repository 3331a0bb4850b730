package ledger

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
)

// CorrectLot corrects what was typed of a lot's batch. What stood there before is kept with who, when and why, and
// notices are judged anew: a batch that turns out to be meant by one is unusable from then on. Refuses: Forbidden
// without keep_stock, and for a batch that was never at a station of the actor's; NotFound; Invalid by field, and
// where nothing differs; Conflict for units without a number, for an item that they cannot be of, and for a number that
// another batch has, unless the two are merged. Locks the items.
func (s *Service) CorrectLot(ctx context.Context, by inventory.Actor, lot int64,
	in inventory.LotCorrection) (inventory.BatchCorrection, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.BatchCorrection,
		error) {
		l, err := w.Lot(lot)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		if err := hadAtOwnStation(w, by, l.Batch); err != nil {
			return inventory.BatchCorrection{}, err
		}
		items := []string{l.Item}
		if in.Item != nil {
			*in.Item = inventory.NormalCode(*in.Item)
			items = append(items, *in.Item)
			slices.Sort(items)
		}
		for _, item := range items {
			if err := w.LockItem(item); err != nil {
				return inventory.BatchCorrection{}, err
			}
		}
		old, err := w.Batch(cmp.Or(l.MergedInto, l.Batch.ID)) // again, now that others wait
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		u := NewUnit(w, by, s.now(), TwoSign)
		it, err := u.itemOf(old, in)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		today, err := s.TodayAtFirst(w, by.StationsSeen())
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		if old.BatchNo == "" && old.Serial == "" {
			return inventory.BatchCorrection{}, inventory.Refuse(inventory.Conflict,
				"no batch number: identify them instead")
		}
		now, err := in.Applied(old).Batch(it, today)
		if err != nil {
			return inventory.BatchCorrection{}, err
		}
		return u.correctBatch(old, now, in.Reason, in.Merge)
	})
}

// itemOf is the item that a batch is of once it is corrected.
func (u *Unit) itemOf(b inventory.Batch, in inventory.LotCorrection) (inventory.Item, error) {
	was, err := u.Item(b.Item)
	if err != nil || in.Item == nil {
		return was, err
	}
	is, err := u.Item(*in.Item)
	if err != nil {
		return is, inventory.AsField(err, "item", "not found")
	}
	if err := ItemCorrectable(was, is); err != nil || was.Code == is.Code {
		return is, err
	}
	first, err := u.W.Movements(inventory.MovementFilter{Batch: b.ID}, inventory.Page{Limit: 1})
	if err != nil || len(first) == 0 {
		return is, err
	}
	all, err := u.W.Conversions()
	if err != nil {
		return is, err
	}
	return is, cmp.Or(inventory.InOldUnit(all, was.Code, first[0], 0, u.Now),
		inventory.InOldUnit(all, is.Code, first[0], 0, u.Now))
}

// hadAtOwnStation refuses to correct a batch that was never at a station of the actor's.
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

// correctBatch stores what is printed on a batch anew, or merges it into the one that has its number, keeps the
// correction, and judges the notices on the item anew. What was merged into the batch before goes along.
func (u *Unit) correctBatch(old, now inventory.Batch, reason string, merge bool) (inventory.BatchCorrection, error) {
	c := inventory.BatchCorrection{RecordedAt: u.Now, By: u.By.Name, Reason: reason}
	var ps inventory.Problems
	inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
	ps.When(old.Facts() == now.Facts(), "reason", "change at least one value")
	if err := ps.Err(); err != nil {
		return c, err
	}
	all, err := u.W.Batches(inventory.BatchFilter{Items: slices.Compact([]string{old.Item, now.Item})})
	if err != nil {
		return c, err
	}
	now.ID = old.ID
	twin, found := inventory.Twin(now, all)
	switch {
	case found && now.Serial != "":
		return c, inventory.ErrReceived
	case found && !merge:
		return c, inventory.ErrTwin
	case found:
		now, c.Merged = twin, twin.ID
	}
	clear(u.lots)
	first := c
	for _, b := range all {
		if b.ID != old.ID && b.MergedInto != old.ID {
			continue
		}
		next := b.Corrected(now)
		if found {
			next, twin = inventory.Merged(b, twin)
		}
		kept, err := u.keepCorrection(c, b, next)
		if err != nil {
			return c, err
		}
		if b.ID == old.ID {
			first = kept
		}
	}
	if c.Merged = old.ID; found {
		if _, err := u.keepCorrection(c, old, twin); err != nil {
			return c, err
		}
	}
	return first, cmp.Or(ApplyNotices(u.W, old.Item), ApplyNotices(u.W, now.Item))
}

// keepCorrection stores a batch anew, with what it was corrected from and to.
func (u *Unit) keepCorrection(c inventory.BatchCorrection, was, now inventory.Batch) (inventory.BatchCorrection,
	error) {
	c.BatchID, c.Old, c.New = now.ID, was.Facts(), now.Facts()
	return u.W.CorrectBatch(now, c)
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
