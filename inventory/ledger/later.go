package ledger

import (
	"slices"

	"stowkeeper/inventory"
)

// later holds the batches and lots that a unit's receipts make, so that they are written together when the movements
// are. Till then their numbers are below zero.
type later struct {
	batches []*inventory.Batch
	lots    []inventory.Lot
	known   map[batchClocks]int64
}

type batchClocks struct {
	batch int64
	inventory.Clocks
}

// Together has the unit write what its receipts make when it appends movements, as much of it as these move.
func (u *Unit) Together() { u.later = &later{known: map[batchClocks]int64{}} }

// Forget drops the lots that wait to be written, where what movements come to was only to be known. Later receipts are
// judged by their batches all the same.
func (u *Unit) Forget() {
	clear(u.lots)
	clear(u.later.known)
	u.later.lots = nil
}

// addBatch adds a batch, marked with the notices that mean it.
func (u *Unit) addBatch(b *inventory.Batch) error {
	if u.later != nil {
		u.later.batches = append(u.later.batches, b)
		b.ID = -int64(len(u.later.batches))
		return nil
	}
	added, err := u.W.AddBatches([]inventory.Batch{*b})
	if err == nil {
		b.ID = added[0].ID
	}
	return err
}

// ensureLot returns the lot of a batch with those clocks, made if need be.
func (u *Unit) ensureLot(l inventory.Lot) (inventory.Lot, error) {
	if u.later == nil {
		ls, err := u.W.EnsureLots([]inventory.Lot{l})
		if err != nil {
			return inventory.Lot{}, err
		}
		return ls[0], nil
	}
	key := batchClocks{l.Batch.ID, l.Clocks}
	if id, is := u.later.known[key]; is {
		return u.Lot(id)
	}
	l.ID = -int64(len(u.later.lots)) - 1
	u.later.lots, u.later.known[key] = append(u.later.lots, l), l.ID
	return l, nil
}

// Lot returns a lot, also one that is written later.
func (u *Unit) Lot(id int64) (inventory.Lot, error) {
	if id < 0 && u.later != nil && -id <= int64(len(u.later.lots)) {
		return u.later.lots[-id-1], nil
	}
	return Cached(u.lots, id, u.W.Lot)
}

// write writes what movements need of what is to be written later, and has them name it by its numbers.
func (u *Unit) write(ms []inventory.Movement) ([]inventory.Movement, error) {
	if u.later == nil {
		return ms, nil
	}
	var batches []*inventory.Batch
	var lots []*inventory.Lot
	taken := map[any]bool{}
	for _, m := range ms {
		for _, id := range []int64{m.LotID, m.IntoLotID} {
			if id >= 0 || u.later.lots[-id-1].ID >= 0 || taken[id] {
				continue
			}
			l := &u.later.lots[-id-1]
			lots, taken[id] = append(lots, l), true
			if b := u.later.batch(l); b != nil && b.ID < 0 && !taken[b] {
				batches, taken[b] = append(batches, b), true
			}
		}
	}
	if err := u.writeBatches(batches); err != nil {
		return nil, err
	}
	if err := u.writeLots(lots); err != nil {
		return nil, err
	}
	out := slices.Clone(ms)
	for i, m := range ms {
		out[i].LotID, out[i].IntoLotID = u.later.written(m.LotID), u.later.written(m.IntoLotID)
	}
	return out, nil
}

func (u *Unit) writeBatches(batches []*inventory.Batch) error {
	if len(batches) == 0 {
		return nil
	}
	list := make([]inventory.Batch, len(batches))
	for i, b := range batches {
		list[i] = *b
	}
	added, err := u.W.AddBatches(list)
	for i, b := range added {
		batches[i].ID = b.ID
	}
	return err
}

// writeLots writes lots, and then those that are split from them.
func (u *Unit) writeLots(lots []*inventory.Lot) error {
	for len(lots) > 0 {
		var now []inventory.Lot
		var these, others []*inventory.Lot
		for _, l := range lots {
			if b := u.later.batch(l); b != nil {
				l.Batch = *b
			}
			if l.Parent = u.later.written(l.Parent); l.Parent < 0 {
				others = append(others, l)
			} else {
				now, these = append(now, *l), append(these, l)
			}
		}
		there, err := u.W.EnsureLots(now)
		if err != nil {
			return err
		}
		for i, l := range there {
			*these[i] = l
		}
		lots = others
	}
	return nil
}

// batch is the batch of a lot, where that is to be written too.
func (w *later) batch(l *inventory.Lot) *inventory.Batch {
	if l.Batch.ID < 0 {
		return w.batches[-l.Batch.ID-1]
	}
	return nil
}

// written is the number of a lot, the one that it has now where it is written.
func (w *later) written(lot int64) int64 {
	if lot < 0 {
		return w.lots[-lot-1].ID
	}
	return lot
}
