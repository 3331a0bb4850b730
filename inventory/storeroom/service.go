// Package storeroom is the quartermaster's desk: restocks, deliveries, pick lists and labels.
package storeroom

import "stowkeeper/inventory"

// Service is for whoever keeps a store.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
