// Package search is one field that finds anything.
package search

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// Service finds. It changes nothing.
type Service struct {
	store inventory.Store
	now   inventory.Clock
	stock *stock.Service
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock, st *stock.Service) *Service {
	return &Service{store: store, now: now, stock: st}
}
