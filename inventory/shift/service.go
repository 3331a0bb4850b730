// Package shift is what crews see and record at a bag or vehicle, and what a quartermaster decides of it.
package shift

import "stowkeeper/inventory"

// Service takes what crews record. A check or use that can be read is always kept;
// what cannot be posted waits, whole, for a quartermaster.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
