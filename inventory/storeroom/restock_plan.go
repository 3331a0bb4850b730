package storeroom

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/stock"
)

// RestockPlan is what a restock of a bag goes by: its pick list, what its page shows, and what lies in the stores of
// its purpose at the station where it is, by place and lot.
type RestockPlan struct {
	inventory.PickList
	Checklist inventory.Checklist
	Stored    []stock.LotSummary
	Sealed    bool // whether the bag needs a seal after it
}

// RestockPlan makes the pick list of a bag, from the stores of the station where it is. What the bags of that station
// lack first is a claim on them; other stations have none. Refuses: Forbidden without keep_stock where the bag is;
// NotFound, with codes that are near.
func (s *Service) RestockPlan(ctx context.Context, by inventory.Actor, code string, ask lists.Outlook) (RestockPlan,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (RestockPlan, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActKeepStock)
		if err != nil {
			return RestockPlan{}, err
		}
		g, err := lists.LoadReportInput(r, b.Purpose, []string{b.AtStation})
		if err != nil {
			return RestockPlan{}, err
		}
		i := slices.IndexFunc(g.Bags, func(v inventory.BagView) bool { return v.Bag.Code == b.Code })
		if i < 0 { // it is retired
			i = len(g.Bags)
			v, err := lists.LoadBag(r, b)
			if err != nil {
				return RestockPlan{}, err
			}
			g.Bags = append(g.Bags, v)
		}
		return restockPlanOf(g, g.Bags[i], s.now(), ask), nil
	})
}

func restockPlanOf(g inventory.ReportInput, v inventory.BagView, now inventory.Instant, ask lists.Outlook) RestockPlan {
	own := v
	own.Items = lists.ItemsOf(v, g.Items)
	p := RestockPlan{Checklist: inventory.ChecklistOf(own, now, ask.AsOf, ask.Days())}
	var claims []inventory.Fill
	if v.Bag.Purpose == inventory.ForIssue { // training bags claim nothing
		claims = inventory.ShortagesOf(g, now, ask.AsOf, 0).Fill
	}
	v.Items = g.Items
	p.Sealed = v.OnNewest(p.Checklist.Readiness.AsOf).List.Sealed
	p.PickList = inventory.PickListOf(v, g.Stores, claims, now, ask.AsOf)
	p.PutModules(v, g.Bags, claims, now)
	for _, st := range g.Stores {
		p.Stored = append(p.Stored, stock.LotSummary{Lot: st.Lot, Where: []stock.AtPlace{{Place: st.Place, Qty: st.Qty}},
			UsableThrough: inventory.UsableThrough(g.Items[st.Lot.Item], st.Lot, p.AsOf)})
	}
	return p
}
