package storeroom

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/shift"
)

// Desk is what a quartermaster has before them: what to restock, what to decide, what to look into.
type Desk struct {
	ToRestock []DeskBag
	Checks    []inventory.Check // waiting, newest first
	Uses      []inventory.Use   // waiting, newest first
	Open      []inventory.Observation
	SetApart  []SetApart                   // units in quarantine, by place
	Overdue   []shift.AwayPlace            // what should have come back, by the day that it was due
	At        map[string]inventory.Station // bag → where it is
}

// DeskBag is a bag that a restock would bring nearer to its list.
type DeskBag struct {
	inventory.BagSummary
	Mend []inventory.Finding // what a restock mends
}

// restockMends lists the findings that a restock can mend.
var restockMends = []inventory.FindingKind{
	inventory.FindBelowMinimum, inventory.FindBelowPar, inventory.FindKitRule, inventory.FindUnderNotice,
	inventory.FindPastEnd, inventory.FindNotOnList, inventory.FindSurplus, inventory.FindNoSeal,
}

// Desk gathers a day's desk at the actor's stations, or at some of them. Bags come by priority, then those that must
// not go out, then by code; records newest first. Refuses: Forbidden without keep_stock, and for a station that is
// not the actor's; NotFound for a station.
func (s *Service) Desk(ctx context.Context, by inventory.Actor, stations []string) (Desk, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (Desk, error) {
		var d Desk
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return d, err
		}
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return d, err
		}
		if d.ToRestock, err = s.toRestock(r, seen); err != nil {
			return d, err
		}
		waiting := inventory.RecordFilter{Status: inventory.StatusToReview, AtStations: seen}
		if d.Checks, err = r.Checks(waiting, inventory.Page{}); err != nil {
			return d, err
		}
		if d.Uses, err = r.Uses(waiting, inventory.Page{}); err != nil {
			return d, err
		}
		if d.Open, err = r.Observations(inventory.ObservationFilter{AtStations: seen, Open: true}); err != nil {
			return d, err
		}
		return d, s.addPlaces(r, &d, seen)
	})
}

// SetApart is how many units lie in a quarantine.
type SetApart struct {
	Place, Name string
	Qty         int
}

// addPlaces tells where bags are, and what lies in quarantine or is overdue to come back.
func (s *Service) addPlaces(r inventory.Reader, d *Desk, seen []string) error {
	var errs [5]error
	stations, err := lists.StationsByCode(r)
	errs[0] = err
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	errs[1] = err
	held, err := r.Stock(inventory.StockFilter{Stations: seen})
	errs[2] = err
	places, err := r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	errs[3] = err
	bags, err := r.Bags(inventory.BagFilter{Retired: true}, inventory.Page{})
	errs[4] = err
	d.At = map[string]inventory.Station{}
	for _, b := range bags {
		d.At[b.Code] = stations[b.AtStation]
	}
	qty := map[string]int{}
	for _, st := range held {
		qty[st.Place] += st.Qty
	}
	var away []inventory.Place
	for _, p := range places {
		switch {
		case p.Kind == inventory.KindQuarantine && qty[p.Code] > 0:
			d.SetApart = append(d.SetApart, SetApart{p.Code, p.Name, qty[p.Code]})
		case p.Kind == inventory.KindAway && qty[p.Code] > 0:
			away = append(away, p)
		}
	}
	d.Overdue = shift.OverdueAway(away, held, items, stations, s.now())
	return cmp.Or(errs[:]...)
}

func (s *Service) toRestock(r inventory.Reader, stations []string) ([]DeskBag, error) {
	views, err := lists.LoadBags(r, inventory.BagFilter{AtStations: stations}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	ask := lists.Outlook{Horizon: -1}
	var out []DeskBag
	for _, v := range views {
		b := DeskBag{BagSummary: lists.SummaryOf(v, s.now(), ask)}
		for _, f := range inventory.ReadinessOf(v, s.now(), 0, ask.Days()).Findings {
			if slices.Contains(restockMends, f.Kind) {
				b.Mend = append(b.Mend, f)
			}
		}
		if len(b.Mend) > 0 {
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b DeskBag) int {
		return cmp.Or(cmp.Compare(a.Priority, b.Priority), -inventory.CompareBool(a.Stops > 0, b.Stops > 0),
			cmp.Compare(a.Code, b.Code))
	})
	return out, nil
}

// Bags lists the bags at the actor's stations by code, without judging them. Refuses: Forbidden without see, and for
// a station that is not the actor's; NotFound for a station, kit list or outer bag.
func (s *Service) Bags(ctx context.Context, by inventory.Actor, f inventory.BagFilter,
	p inventory.Page) ([]inventory.Bag, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.Bag, error) {
		stations, err := scope.Narrowed(by, r, f.AtStations)
		if err != nil {
			return nil, err
		}
		f.AtStations = stations
		if err := lists.Exists(f, r); err != nil {
			return nil, err
		}
		return r.Bags(f, p)
	})
}

// LotsStowed returns those of the lots that lie in some bag at the actor's stations, by id: the ones behind the
// first stops of a report. Refuses: Forbidden without see.
func (s *Service) LotsStowed(ctx context.Context, by inventory.Actor, ids []int64) (map[int64]inventory.Lot, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (map[int64]inventory.Lot, error) {
		out := map[int64]inventory.Lot{}
		if err := by.Must(inventory.ActSee, ""); err != nil || len(ids) == 0 {
			return out, err
		}
		stock, err := r.Stock(inventory.StockFilter{Lots: ids, Kinds: []inventory.PlaceKind{inventory.KindBag},
			Stations: by.StationsSeen()})
		for _, st := range stock {
			out[st.Lot.ID] = st.Lot
		}
		return out, err
	})
}
