// Package register is the running-balance record of controlled items.
package register

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// Service keeps the registers. Every entry is a movement signed by two, or owes the second signature and says so.
type Service struct {
	store inventory.Store
	now   inventory.Clock
	stock *stock.Service

	keepYears int // after its last entry, the owner's policy; RegisterYears where it is 0
}

// New returns the service over a store and a clock. keepYears is how long a register is
// kept after its last entry, RegisterYears where it is 0.
func New(store inventory.Store, now inventory.Clock, st *stock.Service, keepYears int) *Service {
	return &Service{store: store, now: now, stock: st, keepYears: keepYears}
}
