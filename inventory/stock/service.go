// Package stock is what lies where: lots, devices and their stories.
package stock

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
)

// Service answers where stock is and what became of it. It changes nothing but what it says it does.
type Service struct {
	store  inventory.Store
	now    inventory.Clock
	ledger *ledger.Service
	lists  *lists.Service
}

// New returns the service over a store and a clock, which asks the other two.
func New(store inventory.Store, now inventory.Clock, l *ledger.Service, ls *lists.Service) *Service {
	return &Service{store: store, now: now, ledger: l, lists: ls}
}
