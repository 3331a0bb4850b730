package lists

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// PastUsage lists past usage at the actor's stations in units, by station, item and period. Refuses: Forbidden
// without history, and for a station that is not the actor's; NotFound for a station.
func (s *Service) PastUsage(ctx context.Context, by inventory.Actor, f inventory.UsageFilter) ([]inventory.PastUsage,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) ([]inventory.PastUsage,
		error) {
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations = stations
		return r.PastUsage(f)
	})
}
