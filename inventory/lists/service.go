// Package lists is what everything else is made of: items, products, kit lists, stations, places and bags.
package lists

import "stowkeeper/inventory"

// Service keeps the lists. What stands in a list is never deleted, only changed or retired.
type Service struct {
	store     inventory.Store
	now       inventory.Clock
	published []PublishedList // kit lists to start from
}

// New returns the service over a store and a clock, with the published kit lists that one may start from.
func New(store inventory.Store, now inventory.Clock, published []PublishedList) *Service {
	return &Service{store: store, now: now, published: published}
}
