// Package account is who gets in: people and their secrets, sessions, terminals, tokens and one-time links, and the
// signatures of a second person.
package account

import "stowkeeper/inventory"

// Service lets people and programs in, and answers for the secrets by which they do.
// No secret leaves it but once, to who made it; it keeps hashes alone.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}
