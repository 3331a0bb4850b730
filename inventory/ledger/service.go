// Package ledger is the only way that stock moves: post, receive, correct, split, inspect, train, and once.
package ledger

import (
	"context"

	"stowkeeper/inventory"
)

// Service moves stock. Whatever it posts was judged by every rule, and is all there or not at all.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}

// Together runs several use cases in one unit of work: all of them happen or none does. It never refuses: an error
// is that of fn.
func (s *Service) Together(ctx context.Context, fn func(ctx context.Context) error) error {
	return s.store.Write(ctx, func(ctx context.Context, _ inventory.Writer) error { return fn(ctx) })
}
