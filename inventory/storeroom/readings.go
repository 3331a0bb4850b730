package storeroom

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// PickList makes the pick list of a bag.
func (s *Service) PickList(ctx context.Context, by inventory.Actor, code string, ask lists.Outlook) (inventory.PickList,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.PickList, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActKeepStock)
		if err != nil {
			return inventory.PickList{}, err
		}
		v, err := lists.LoadBag(r, b)
		if err != nil {
			return inventory.PickList{}, err
		}
		g, err := lists.LoadReportInput(r)
		if err != nil {
			return inventory.PickList{}, err
		}
		v.Items = g.Items
		now := s.now()
		stores, claims := g.StoresByStation()[b.AtStation], []inventory.Fill(nil)
		if b.Purpose == inventory.ForIssue {
			claims = inventory.ShortagesOf(g, now, ask.AsOf, 0).Fill
		} else if stores, err = r.Stock(inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindStore},
			Purpose: inventory.ForTraining, Stations: []string{b.AtStation}}); err != nil {
			return inventory.PickList{}, err
		}
		return inventory.PickListOf(v, stores, claims, now, ask.AsOf), nil
	})
}
