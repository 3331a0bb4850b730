package lists

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
)

// BagThen is a bag on a kit list as it is, and as it would be on the list as it was changed.
type BagThen struct {
	Bag       string
	Now, Then inventory.State
	Lacks     []ItemCount // units missing to par that are not missing now
	Over      []ItemCount // units that would be surplus or not on the list, and are not now
}

// ItemCount is a number of units of an item.
type ItemCount struct {
	Item string
	Qty  int
}

// Preview tells what a kit list would change if it were saved and the actor's bags on it moved to it, by bag code. It
// changes nothing. Refuses: Forbidden without keep_lists; Invalid by field.
func (s *Service) Preview(ctx context.Context, by inventory.Actor, in inventory.KitList) ([]BagThen, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepLists, func(r inventory.Reader) ([]BagThen, error) {
		if err := CheckKitList(r, in); err != nil {
			return nil, err
		}
		views, err1 := LoadBags(r, inventory.BagFilter{KitList: in.Code}, inventory.Page{})
		items, err2 := ItemsByCode(r, inventory.ItemFilter{})
		if err := cmp.Or(err1, err2); err != nil {
			return nil, err
		}
		var out []BagThen
		for _, v := range views {
			if !by.At(v.Bag.AtStation) || v.Bag.Retired() || v.Bag.KitList != in.Code {
				continue
			}
			next := v
			next.List, next.Versions, next.Items = in, nil, items
			now := inventory.ReadinessOf(v, s.now(), 0, inventory.DefaultHorizonDays)
			then := inventory.ReadinessOf(next, s.now(), 0, inventory.DefaultHorizonDays)
			out = append(out, BagThen{v.Bag.Code, now.State, then.State, more(lacking(now), lacking(then)),
				more(over(now), over(then))})
		}
		slices.SortFunc(out, func(a, b BagThen) int { return cmp.Compare(a.Bag, b.Bag) })
		return out, nil
	})
}

func lacking(r inventory.Readiness) map[string]int {
	n := map[string]int{}
	for _, l := range r.Lines {
		n[l.Item] += l.Shortfall
	}
	return n
}

func over(r inventory.Readiness) map[string]int {
	n := map[string]int{}
	for _, s := range slices.Concat(r.Surplus, r.NotOnList) {
		n[s.Item] += s.Qty
	}
	return n
}

// more is what there is more of in the second, by item.
func more(before, after map[string]int) []ItemCount {
	var out []ItemCount
	for item, n := range after {
		if n > before[item] {
			out = append(out, ItemCount{item, n - before[item]})
		}
	}
	slices.SortFunc(out, func(a, b ItemCount) int { return cmp.Compare(a.Item, b.Item) })
	return out
}
