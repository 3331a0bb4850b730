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
	Lacks     []ItemThen // where another number of units would be missing to par
	Over      []ItemThen // … would be surplus, or not on the list
}

// ItemThen is a number of units of an item as it is, and as it would be.
type ItemThen struct {
	Item      string
	Now, Then int
}

// Preview tells which of the actor's bags on a kit list would change, and how, if it were saved and they moved to it,
// by bag code; and how many would stay as they are. It changes nothing. Refuses: Forbidden without keep_lists; Invalid
// by field.
func (s *Service) Preview(ctx context.Context, by inventory.Actor, in inventory.KitList) (out []BagThen, same int,
	err error) {
	then := func(r inventory.Reader) (out []BagThen, _ error) {
		if err := CheckKitList(r, in); err != nil {
			return nil, err
		}
		views, err1 := LoadBags(r, inventory.BagFilter{KitList: in.Code}, inventory.Page{})
		items, err2 := ItemsByCode(r, inventory.ItemFilter{})
		if err := cmp.Or(err1, err2); err != nil {
			return nil, err
		}
		for _, v := range views {
			if !by.At(v.Bag.AtStation) || v.Bag.Retired() || v.Bag.KitList != in.Code {
				continue
			}
			next := v
			next.List, next.Versions, next.Items = in, nil, items
			now := inventory.ReadinessOf(v, s.now(), 0, inventory.DefaultHorizonDays)
			then := inventory.ReadinessOf(next, s.now(), 0, inventory.DefaultHorizonDays)
			b := BagThen{v.Bag.Code, now.State, then.State, differ(lacking(now), lacking(then)), differ(over(now), over(then))}
			if b.Now == b.Then && len(b.Lacks)+len(b.Over) == 0 {
				same++
				continue
			}
			out = append(out, b)
		}
		slices.SortFunc(out, func(a, b BagThen) int { return cmp.Compare(a.Bag, b.Bag) })
		return out, nil
	}
	out, err = inventory.ReadAs(ctx, s.store, by, inventory.ActKeepLists, then)
	return out, same, err
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

// differ is what there is another number of, by item.
func differ(now, then map[string]int) (out []ItemThen) {
	for item, n := range then {
		if n != now[item] {
			out = append(out, ItemThen{item, now[item], n})
		}
	}
	for item, n := range now {
		if _, there := then[item]; !there && n > 0 {
			out = append(out, ItemThen{item, n, 0})
		}
	}
	slices.SortFunc(out, func(a, b ItemThen) int { return cmp.Compare(a.Item, b.Item) })
	return out
}
