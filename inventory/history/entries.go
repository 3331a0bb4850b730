package history

import (
	"context"

	"stowkeeper/inventory"
)

// entries is a unit of work that remembers where the bags and places are that went by.
type entries struct {
	inventory.Writer
	stations map[string]string // by code of a bag or place
}

// Write runs fn in one unit of work, with a writer that keeps the history.
func (s store) Write(ctx context.Context, fn work) error {
	return s.Store.Write(ctx, s.keeping(fn))
}

// Try runs fn as Write does, and keeps nothing.
func (s store) Try(ctx context.Context, fn work) error {
	return s.Store.Try(ctx, s.keeping(fn))
}

type work = func(ctx context.Context, w inventory.Writer) error

func (s store) keeping(fn work) work {
	return func(ctx context.Context, w inventory.Writer) error {
		return fn(ctx, writer{&entries{w, map[string]string{}}, inventory.ActingIn(ctx), s.now})
	}
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
