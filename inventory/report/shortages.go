package report

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// Shortages makes the shortage report for the actor's stations, or for some, in units. Refuses: Forbidden without
// report, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Shortages(ctx context.Context, by inventory.Actor, stations []string,
	ask lists.Outlook) (inventory.Shortages, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) (inventory.Shortages, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return inventory.Shortages{}, err
		}
		g, err := lists.LoadReportInput(r, inventory.ForIssue, nil) // the plan needs the needs of every station
		if err != nil {
			return inventory.Shortages{}, err
		}
		rep := inventory.ShortagesOf(g, s.now(), ask.AsOf, ask.Days())
		return rep.Only(g, seen, s.now()), nil
	})
}
