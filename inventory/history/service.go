// Package history is who did what, when and from where.
package history

import (
	"sync/atomic"

	"stowkeeper/inventory"
)

// Service reads the history. It is written by the store that Recording returns.
type Service struct {
	store inventory.Store
	now   inventory.Clock
	ahead atomic.Int64 // the newest record that was ahead of the clock when somebody looked, 0 for none
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
