package exchange

import (
	"context"

	"stowkeeper/inventory"
)

// checking is what an import is given that only checks: it reads as a writer does, and there is nobody to lock out.
type checking struct {
	inventory.Reader
	nothing
}

// nothing is no writer: its methods stand behind those of the reader, and calling one is a mistake of ours.
type nothing struct{ inventory.Writer }

func (checking) LockItem(string) error                        { return nil }
func (checking) LockBags([]string) error                      { return nil }
func (c checking) LockBag(code string) (inventory.Bag, error) { return c.Bag(code) }

// check runs fn on a snapshot.
func (s *Service) check(ctx context.Context, fn func(context.Context, inventory.Writer) error) error {
	return s.store.Read(ctx, func(ctx context.Context, r inventory.Reader) error { return fn(ctx, checking{Reader: r}) })
}
