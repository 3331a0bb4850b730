// Package notice is recalls and field safety notices.
package notice

import "stowkeeper/inventory"

// Service keeps notices, and tells at any moment where their units are.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
