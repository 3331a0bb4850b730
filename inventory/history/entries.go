package history

import (
	"context"

	"stowkeeper/inventory"
)

// entries are what a unit of work adds to the history: they are written at its
// end, all at once, so that it does not find them itself. Beside them it remembers where the bags and places are that
// went by.
type entries struct {
	inventory.Writer
	all      []inventory.HistoryEntry
	stations map[string]string // by code of a bag or place
}

type entriesKey struct{ inventory.Store }

// Write runs fn in one unit of work, with a writer that keeps the history. What
// fails within another unit of work leaves no entries.
func (s store) Write(ctx context.Context, fn func(ctx context.Context, w inventory.Writer) error) error {
	outer, joined := ctx.Value(entriesKey{s.Store}).(*entries)
	return s.Store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		e := &entries{Writer: w, stations: map[string]string{}}
		if err := fn(context.WithValue(ctx, entriesKey{s.Store}, e), writer{e, inventory.ActingIn(ctx), s.now}); err != nil {
			return err
		}
		if joined {
			outer.all = append(outer.all, e.all...)
		}
		if joined || len(e.all) == 0 {
			return nil
		}
		return w.AddHistory(e.all)
	})
}

// AddHistory adds at the end of the unit of work.
func (e *entries) AddHistory(ds []inventory.HistoryEntry) error {
	e.all = append(e.all, ds...)
	return nil
}

// The readings and locks by which a use case knows a bag or place.

func (e *entries) Bag(code string) (inventory.Bag, error) { return e.bag(e.Writer.Bag(code)) }

func (e *entries) LockBag(code string) (inventory.Bag, error) { return e.bag(e.Writer.LockBag(code)) }

func (e *entries) UpdateBag(b inventory.Bag) (inventory.Bag, error) {
	return e.bag(e.Writer.UpdateBag(b))
}

func (e *entries) bag(b inventory.Bag, err error) (inventory.Bag, error) {
	if err == nil {
		e.stations[b.Code] = b.AtStation
	}
	return b, err
}

func (e *entries) Place(code string) (inventory.Place, error) {
	pl, err := e.Writer.Place(code)
	if err == nil && pl.Kind != inventory.KindBag { // which may be somewhere else than at its owner's
		e.stations[code] = pl.Station
	}
	return pl, err
}

// stationOf returns where a bag or place is, or nothing where it is nowhere.
func (e *entries) stationOf(code string) string {
	if station, known := e.stations[code]; known {
		return station
	}
	if b, err := e.Bag(code); err == nil {
		return b.AtStation
	}
	pl, _ := e.Place(code)
	return pl.Station
}
