package shift

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// Readiness judges one bag. Refuses: Forbidden without see where it is; NotFound, with codes that are near.
func (s *Service) Readiness(ctx context.Context, by inventory.Actor, code string,
	ask lists.Outlook) (inventory.Readiness, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Readiness, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActSee)
		if err != nil {
			return inventory.Readiness{}, err
		}
		v, err := lists.LoadBag(r, b)
		if err != nil {
			return inventory.Readiness{}, err
		}
		return inventory.ReadinessOf(v, s.now(), ask.AsOf, ask.Days()), nil
	})
}

// Checklist returns what the page behind a bag's label shows, by pouch. Refuses: Forbidden without see where the bag
// is; NotFound, with codes that are near.
func (s *Service) Checklist(ctx context.Context, by inventory.Actor, code string,
	ask lists.Outlook) (inventory.Checklist, error) {
	all, err := s.Checklists(ctx, by, []string{code}, ask)
	if err != nil {
		return inventory.Checklist{}, err
	}
	return all[0], nil
}

// Checklists returns the checklists of some bags, in that order. Refuses: Forbidden without see, and for a bag at a
// station that is not the actor's; NotFound for one that does not exist.
func (s *Service) Checklists(ctx context.Context, by inventory.Actor, codes []string,
	ask lists.Outlook) ([]inventory.Checklist, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Checklist, error) {
		bags := make([]inventory.Bag, len(codes))
		for i, code := range codes {
			var err error
			if bags[i], err = scope.BagFor(r, by, code, inventory.ActSee); err != nil {
				return nil, err
			}
		}
		views, err := lists.LoadNamed(r, bags)
		out := make([]inventory.Checklist, 0, len(views))
		for _, v := range views {
			out = append(out, inventory.ChecklistOf(v, s.now(), ask.AsOf, ask.Days()))
		}
		return out, err
	})
}

// BagList lists bags with their states, by code. Refuses: Forbidden without see, and for a station that is not the
// actor's; NotFound for a station, kit list or outer bag.
func (s *Service) BagList(ctx context.Context, by inventory.Actor, f inventory.BagFilter, p inventory.Page,
	ask lists.Outlook) ([]inventory.BagSummary, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.BagSummary, error) {
		stations, err := scope.Narrowed(by, r, f.AtStations)
		if err != nil {
			return nil, err
		}
		f.AtStations = stations
		if err := lists.Exists(f, r); err != nil {
			return nil, err
		}
		views, err := lists.LoadBags(r, f, p)
		out := make([]inventory.BagSummary, 0, len(views))
		for _, v := range views {
			out = append(out, lists.SummaryOf(v, s.now(), ask))
		}
		return out, err
	})
}
