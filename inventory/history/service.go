// Package history is who did what, when and from where.
package history

import "stowkeeper/inventory"

// Service reads the history. It is written by the store that Recording returns.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
