package storeroom

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// Observations lists observations at the actor's stations by id, of a bag where one is named. Refuses: Forbidden
// without see, and for a bag or station that is not the actor's; NotFound for either.
func (s *Service) Observations(ctx context.Context, by inventory.Actor, bag string,
	f inventory.ObservationFilter) ([]inventory.Observation, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Observation, error) {
		seen, err := scope.RecordsSeen(by, r, inventory.RecordFilter{Bag: bag, AtStations: f.AtStations})
		if err != nil {
			return nil, err
		}
		if f.AtStations = seen.AtStations; bag != "" {
			f.Bags = []string{seen.Bag}
		}
		return r.Observations(f)
	})
}

// CloseObservation ends an observation with a reason. Refuses: Forbidden without keep_stock where the bag is;
// NotFound for the bag or an open observation of it; Invalid for the reason. Locks the bag.
func (s *Service) CloseObservation(ctx context.Context, by inventory.Actor, bag string, id int64,
	reason string) (inventory.Observation, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Observation, error) {
		b, err := scope.LockedBag(w, by, bag, inventory.ActKeepStock)
		if err != nil {
			return inventory.Observation{}, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.Observation{}, err
		}
		open, err := w.Observations(inventory.ObservationFilter{Bags: []string{b.Code}, Open: true})
		if err != nil {
			return inventory.Observation{}, err
		}
		for _, o := range open {
			if o.ID == id {
				o.ClosedAt, o.ClosedBy, o.CloseReason = s.now(), by.Name, reason
				return o, w.CloseObservation(o)
			}
		}
		return inventory.Observation{}, inventory.Refuse(inventory.NotFound, "not found")
	})
}
