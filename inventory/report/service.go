// Package report is what managers read: shortages, the year ahead, flows.
package report

import "stowkeeper/inventory"

// Service reports. It changes nothing.
type Service struct {
	Policy ReorderPolicy // set before it is used

	store inventory.Store
	now   inventory.Clock
	years yearBook
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
