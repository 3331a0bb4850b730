// Package verify is whether the books hold.
package verify

import "stowkeeper/inventory"

// Service recomputes what the books say of themselves. It changes nothing.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
