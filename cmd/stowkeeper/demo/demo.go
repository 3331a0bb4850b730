// Package demo loads the invented demo scenario: several stations, their bags
// and a year of receipts, checks, incidents and restocks that ends now. It goes
// through the same use cases as real input, under an injected clock; no row is
// written past them.
package demo

import (
	"context"
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
		idle: map[string]string{}}
	s.svc = services.New(store, func() inventory.Instant { return s.now }, services.Options{})
	first := end.Add(-days(Days))
	s.now = first
	ctx = inventory.Acting(ctx, founder)
	err := s.svc.Ledger.Together(ctx, func(ctx context.Context) error {
		if err := s.setUp(ctx, fsys, secrets); err != nil {
			return err
		}
		return s.openingStock(ctx)
	})
	if err != nil {
		return err
	}
	for d := range Days + 1 {
		err := s.svc.Ledger.Together(ctx, func(ctx context.Context) error { return s.day(ctx, d) })
		if err != nil {
			return err
		}
		if progress != nil {
			progress(d, Days)
		}
	}
	if err := s.svc.Ledger.Together(ctx, func(ctx context.Context) error {
		return s.register(ctx, fsys, secrets)
	}); err != nil {
		return err
	}
	s.now = end
	return nil
}
