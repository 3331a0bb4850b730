package storeroom

import (
	"cmp"
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
// NotFound, with codes that are near; Invalid for a bag that is retired.
func (s *Service) RestockPlan(ctx context.Context, by inventory.Actor, code string, ask lists.Outlook) (RestockPlan,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (RestockPlan, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActKeepStock)
		if err != nil {
			return RestockPlan{}, err
		}
		if b.Retired() {
			return RestockPlan{}, inventory.InvalidField("bag", "the bag is retired")
		}
		g, err := lists.LoadReportInput(r, b.Purpose, []string{b.AtStation})
		if err != nil {
			return RestockPlan{}, err
		}
		i := slices.IndexFunc(g.Bags, func(v inventory.BagView) bool { return v.Bag.Code == b.Code })
		return restockPlanOf(g, g.Bags[i], claimsIn(g, b.Purpose, s.now(), ask), s.now(), ask), nil
	})
}

// RestockPlans makes the pick lists of several bags of one station for one walk through its stores, by bag priority,
// then code: what the fill plan gives to one, or one has taken, is not there for another. Named are some bags, or else
// those of issue at the station.
// Refuses: Forbidden without keep_stock there; NotFound for a bag or the station; Invalid for bags of different ones.
func (s *Service) RestockPlans(ctx context.Context, by inventory.Actor, station string,
	named []string) ([]RestockPlan, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (out []RestockPlan, err error) {
		purpose := inventory.ForIssue
		for i, code := range named {
			b, err := scope.BagFor(r, by, code, inventory.ActKeepStock)
			if err != nil {
				return nil, err
			}
			if i > 0 && (b.AtStation != station || b.Purpose != purpose) {
				return nil, inventory.InvalidField("bag", "at another station")
			}
			station, purpose = b.AtStation, b.Purpose
		}
		if _, err := r.Station(station); err != nil {
			return nil, err
		}
		if err := by.Must(inventory.ActKeepStock, station); err != nil {
			return nil, err
		}
		g, err := lists.LoadReportInput(r, purpose, []string{station})
		if err != nil {
			return nil, err
		}
		all := g.Bags
		chosen := func(b inventory.Bag) bool {
			is := func(code string) bool { return inventory.NormalCode(code) == b.Code }
			return len(named) == 0 || slices.ContainsFunc(named, is)
		}
		slices.SortStableFunc(g.Bags, func(a, b inventory.BagView) int { return cmp.Compare(a.Bag.Priority, b.Bag.Priority) })
		var walk, others []inventory.Fill // what the fill plan gives to the bags of this walk, and to the rest
		for _, f := range claimsIn(g, purpose, s.now(), lists.Outlook{}) {
			if slices.ContainsFunc(all, func(v inventory.BagView) bool { return v.Bag.Code == f.Bag && chosen(v.Bag) }) {
				walk = append(walk, f)
			} else {
				others = append(others, f)
			}
		}
		stores, taken := g.Stores, []inventory.Fill{}
		for _, v := range all {
			if !chosen(v.Bag) {
				continue
			}
			walk = slices.DeleteFunc(walk, func(f inventory.Fill) bool { return f.Bag == v.Bag.Code })
			g.Stores = without(stores, taken, walk)
			p := restockPlanOf(g, v, others, s.now(), lists.Outlook{Horizon: -1})
			for _, x := range p.Lines {
				taken = append(taken, inventory.Fill{LotID: x.LotID, From: x.From, Qty: x.Qty})
			}
			g.Bags = slices.DeleteFunc(slices.Clone(g.Bags), func(b inventory.BagView) bool {
				return slices.ContainsFunc(p.Modules, func(m inventory.ModulePick) bool { return m.Module == b.Bag.Code })
			})
			out = append(out, p)
		}
		return out, nil
	})
}

// without is what stores hold once what was given out has left them.
func without(stores []inventory.Stock, given ...[]inventory.Fill) []inventory.Stock {
	type shelf struct {
		lot   int64
		place string
	}
	gone := map[shelf]int{}
	for _, f := range slices.Concat(given...) {
		gone[shelf{f.LotID, f.From}] += f.Qty
	}
	left := slices.Clone(stores)
	for i, st := range left {
		left[i].Qty = max(0, st.Qty-gone[shelf{st.Lot.ID, st.Place}])
	}
	return slices.DeleteFunc(left, func(st inventory.Stock) bool { return st.Qty == 0 })
}

// claimsIn is the fill plan of a station, from which prior claims follow; training bags claim nothing.
func claimsIn(g inventory.ReportInput, of inventory.Purpose, now inventory.Instant,
	ask lists.Outlook) []inventory.Fill {
	if of != inventory.ForIssue {
		return nil
	}
	return inventory.ShortagesOf(g, now, ask.AsOf, 0).Fill
}

func restockPlanOf(g inventory.ReportInput, v inventory.BagView, claims []inventory.Fill, now inventory.Instant,
	ask lists.Outlook) RestockPlan {
	own := v
	own.Items = lists.ItemsOf(v, g.Items)
	p := RestockPlan{Checklist: inventory.ChecklistOf(own, now, ask.AsOf, ask.Days())}
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
