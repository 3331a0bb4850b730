package inventory

import (
	"context"
	"slices"
)

// Lent lists the bags that are not at home: those that belong to the actor's
// sites and are elsewhere, and those that are there and belong elsewhere. Who
// checks and restocks a bag follows where it is; this list is how it comes
// home.
func (s *Service) Lent(ctx context.Context, by Actor, sites []string) ([]BagSummary, error) {
	return read(ctx, s, func(r Reader) ([]BagSummary, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.narrow(sites)
		if err != nil {
			return nil, err
		}
		items, err := itemsByCode(r, ItemFilter{})
		if err != nil {
			return nil, err
		}
		views, err := viewsOf(r, BagFilter{Lent: true}, Page{}, items)
		var out []BagSummary
		for _, v := range views {
			if len(seen) == 0 || slices.Contains(seen, v.Bag.Site) || slices.Contains(seen, v.Bag.AtSite) {
				out = append(out, summaryOf(v, s.Now(), Ask{Horizon: -1}))
			}
		}
		return out, err
	})
}
