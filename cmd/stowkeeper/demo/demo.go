// Package demo loads the invented demo scenario: several stations, their bags and a year of receipts, checks,
// incidents and restocks that ends now. It goes through the same use cases as real input, under an injected clock; no
// row is written past them.
package demo

import (
	"context"
	"fmt"
	"io/fs"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/services"
)

// Load fills an empty store with the scenario so that it ends at end, which
// lies in the present. progress is told about each day loaded, of how many.
func Load(ctx context.Context, store inventory.Store, fsys fs.FS, secrets account.Secrets, end inventory.Instant,
	progress func(day, of int)) error {
	s := &scenario{end: end, dice: newDice(), reused: map[string]int{}, received: map[string]int{},
		idle: map[string]string{}, doing: "set up"}
	s.svc = services.New(store, func() inventory.Instant { return s.now }, services.Options{})
	s.now = end.Add(-days(Days))
	ctx = inventory.Acting(ctx, founder)
	if err := s.together(ctx, func() {
		s.setUp(fsys, secrets)
		s.openingStock()
	}); err != nil {
		return err
	}
	for d := range Days + 1 {
		if err := s.together(ctx, func() { s.day(d) }); err != nil {
			return err
		}
		if progress != nil {
			progress(d, Days)
		}
	}
	err := s.together(ctx, func() { s.register(fsys, secrets) })
	s.now = end
	return err
}

// together tells a part of the scenario in one unit of work. The first step that fails ends it.
func (s *scenario) together(ctx context.Context, part func()) error {
	return s.svc.Ledger.Together(ctx, func(ctx context.Context) (err error) {
		defer func() {
			switch p := recover().(type) {
			case nil:
			case failure:
				err = fmt.Errorf("%s: %w", s.doing, p.error)
			default:
				panic(p)
			}
		}()
		s.ctx = ctx
		part()
		return nil
	})
}

// failure is how a step that fails ends its part of the scenario, in which nothing can be done about it.
type failure struct{ error }

// must gives what a step gives that went well.
func must[T any](v T, err error) T {
	if err != nil {
		panic(failure{err})
	}
	return v
}
