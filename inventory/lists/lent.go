package lists

import (
	"context"
	"slices"

	"stowkeeper/inventory"
)

// Lent lists the bags that are not at home: those that belong to the actor's
// stations and are elsewhere, and those that are there and belong elsewhere. Who
// checks and restocks a bag follows where it is; this list is how it comes
// home.
func (s *Service) Lent(ctx context.Context, by inventory.Actor, stations []string) ([]inventory.BagSummary, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.BagSummary, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.Narrow(stations)
		if err != nil {
			return nil, err
		}
		items, err := ItemsByCode(r, inventory.ItemFilter{})
		if err != nil {
			return nil, err
		}
		views, err := LoadBags(r, inventory.BagFilter{Lent: true}, inventory.Page{}, items)
		var out []inventory.BagSummary
		for _, v := range views {
			if len(seen) == 0 || slices.Contains(seen, v.Bag.Station) || slices.Contains(seen, v.Bag.AtStation) {
				out = append(out, SummaryOf(v, s.now(), Outlook{Horizon: -1}))
			}
		}
		return out, err
	})
}
