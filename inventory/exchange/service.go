// Package exchange is lists in from files, and everything out.
package exchange

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
)

// Service reads lists in and writes everything out.
type Service struct {
	store   inventory.Store
	now     inventory.Clock
	account *account.Service
	lists   *lists.Service
	busy    chan struct{} // a place for each file that is made at a time
}

// mostAtOnce is how many export files are made at a time: each takes up to 64 MB of memory.
const mostAtOnce = 2

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock, a *account.Service, l *lists.Service) *Service {
	return &Service{store: store, now: now, account: a, lists: l,
		busy: make(chan struct{}, mostAtOnce)}
}
