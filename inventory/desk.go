package inventory

import (
	"cmp"
	"context"
	"slices"
)

// Desk is what a quartermaster has before them: what to restock, what to
// decide, what to look into.
type Desk struct {
	ToRestock []DeskBag
	Checks    []Check // waiting, newest first
	Uses      []Use   // waiting, newest first
	Open      []Observation
	SetApart  []AtPlace // units in quarantine, by place
}

// DeskBag is a bag that a restock would bring nearer to its list.
type DeskBag struct {
	BagSummary
	Mend []Finding // what a restock mends
}

// restockMends lists the findings that a restock can mend.
var restockMends = []FindingKind{
	FindBelowMinimum, FindBelowPar, FindKitRule, FindUnderNotice, FindPastEnd, FindNotOnList, FindSurplus, FindNoSeal,
}

// Desk gathers a day's desk at the actor's sites, or at some of them. Bags
// come by priority, then those that must not go out, then by code.
func (s *Service) Desk(ctx context.Context, by Actor, sites []string) (Desk, error) {
	return read(ctx, s, func(r Reader) (Desk, error) {
		var d Desk
		if err := by.must(ActKeepStock, ""); err != nil {
			return d, err
		}
		seen, err := by.narrowed(r, sites)
		if err != nil {
			return d, err
		}
		if d.ToRestock, err = s.toRestock(r, seen); err != nil {
			return d, err
		}
		waiting := RecordFilter{Status: StatusWaiting, AtSites: seen}
		if d.Checks, err = r.Checks(waiting, Page{}); err != nil {
			return d, err
		}
		if d.Uses, err = r.Uses(waiting, Page{}); err != nil {
			return d, err
		}
		if d.Open, err = r.Observations(ObservationFilter{AtSites: seen, Open: true}); err != nil {
			return d, err
		}
		apart, err := r.Stock(StockFilter{Kinds: []PlaceKind{KindQuarantine}, Sites: seen})
		for _, st := range apart {
			if n := len(d.SetApart); n == 0 || d.SetApart[n-1].Place != st.Place { // stock comes ordered by place
				d.SetApart = append(d.SetApart, AtPlace{Place: st.Place})
			}
			d.SetApart[len(d.SetApart)-1].Qty += st.Qty
		}
		return d, err
	})
}

func (s *Service) toRestock(r Reader, sites []string) ([]DeskBag, error) {
	items, err := itemsByCode(r, ItemFilter{})
	if err != nil {
		return nil, err
	}
	views, err := viewsOf(r, BagFilter{AtSites: sites}, Page{}, items)
	if err != nil {
		return nil, err
	}
	ask := Ask{Horizon: -1}
	var out []DeskBag
	for _, v := range views {
		b := DeskBag{BagSummary: summaryOf(v, s.Now(), ask)}
		for _, f := range ReadinessOf(v, s.Now(), 0, ask.horizon()).Findings {
			if slices.Contains(restockMends, f.Kind) {
				b.Mend = append(b.Mend, f)
			}
		}
		if len(b.Mend) > 0 {
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b DeskBag) int {
		return cmp.Or(cmp.Compare(a.Priority, b.Priority), -compareBool(a.Stops > 0, b.Stops > 0), cmp.Compare(a.Code, b.Code))
	})
	return out, nil
}

// Bags lists the bags at the actor's sites without judging them.
func (s *Service) Bags(ctx context.Context, by Actor, f BagFilter, p Page) ([]Bag, error) {
	return read(ctx, s, func(r Reader) ([]Bag, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrowed(r, f.AtSites)
		if err != nil {
			return nil, err
		}
		f.AtSites = sites
		if err := f.exists(r); err != nil {
			return nil, err
		}
		return r.Bags(f, p)
	})
}

// LotsStowed returns lots that lie in some bag, by id: the ones behind the
// first stops of a report.
func (s *Service) LotsStowed(ctx context.Context, by Actor, ids []int64) (map[int64]Lot, error) {
	return read(ctx, s, func(r Reader) (map[int64]Lot, error) {
		out := map[int64]Lot{}
		if err := by.must(ActSee, ""); err != nil || len(ids) == 0 {
			return out, err
		}
		stock, err := r.Stock(StockFilter{Lots: ids, Kinds: []PlaceKind{KindBag}, Sites: by.sitesSeen()})
		for _, st := range stock {
			out[st.Lot.ID] = st.Lot
		}
		return out, err
	})
}
