package storeroom

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
)

// Desk is what a quartermaster has before them: bags to act on, and what else waits.
type Desk struct {
	Bags    []DeskBag
	Others  int // bags that need nothing from them
	Waiting int // checks and uses to review
	Open    []inventory.Observation
	Places  []PlaceToDo                  // with units in quarantine, or with expired ones
	Overdue []shift.AwayPlace            // what should have come back, by the day that it was due
	At      map[string]inventory.Station // bag → where it is
}

// Desk gathers a day's desk at the actor's stations, or at some of them. Bags come as byUrgency says.
// Refuses: Forbidden without keep_stock, and for a station that is not the actor's; NotFound for a station.
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
		if err := s.addPlaces(r, &d, seen); err != nil {
			return d, err
		}
		if err := s.addBags(r, &d, seen); err != nil {
			return d, err
		}
		waiting, err := r.UnderReview(inventory.UnderReviewFilter{AtStations: seen})
		if err != nil {
			return d, err
		}
		for _, u := range waiting { // others took units from a bag here, and wait where theirs is
			if seen == nil || slices.Contains(seen, d.At[u.Bag].Code) {
				d.Waiting++
			}
		}
		d.Open, err = r.Observations(inventory.ObservationFilter{AtStations: seen, Open: true})
		return d, err
	})
}

// PlaceToDo is a place with units to see to.
type PlaceToDo struct {
	Place, Name string
	Apart       int // units in quarantine
	Expired     int // batches that may go to the bin at once
}

// addPlaces tells what lies in quarantine, what has expired in the stores, and what is overdue to come back.
func (s *Service) addPlaces(r inventory.Reader, d *Desk, seen []string) error {
	var errs [5]error
	var items map[string]inventory.Item
	var held []inventory.Stock
	var places []inventory.Place
	var stations map[string]inventory.Station
	stations, errs[0] = lists.StationsByCode(r)
	items, errs[1] = lists.ItemsByCode(r, inventory.ItemFilter{})
	held, errs[2] = r.Stock(inventory.StockFilter{Stations: seen})
	places, errs[3] = r.Places(inventory.PlaceFilter{Stations: seen, Retired: true}, inventory.Page{})
	bags, err := r.Bags(inventory.BagFilter{AtStations: seen}, inventory.Page{}) // as addBags asks
	errs[4] = err
	d.At = map[string]inventory.Station{}
	for _, b := range bags {
		d.At[b.Code] = stations[b.AtStation]
	}
	in := map[string][]stock.LotSummary{}
	qty := map[string]int{}
	for _, st := range held {
		in[st.Place] = append(in[st.Place], stock.LotSummary{Lot: st.Lot,
			Where: []stock.AtPlace{{Place: st.Place, Qty: st.Qty}}})
		qty[st.Place] += st.Qty
	}
	var away []inventory.Place
	for _, p := range places {
		if _, known := d.At[p.Code]; !known && p.Kind == inventory.KindBag { // retired, with an observation that is open
			d.At[p.Code] = stations[p.Station]
		}
		x := PlaceToDo{Place: p.Code, Name: p.Name,
			Expired: len(stock.ToTheBin(p, in[p.Code], items, stations[p.Station].Today(s.now())))}
		switch {
		case p.Kind == inventory.KindQuarantine:
			x.Apart = qty[p.Code]
		case p.Kind == inventory.KindAway && qty[p.Code] > 0:
			away = append(away, p)
		}
		if x.Apart+x.Expired > 0 {
			d.Places = append(d.Places, x)
		}
	}
	d.Overdue = shift.OverdueAway(away, held, items, stations, s.now())
	return cmp.Or(errs[:]...)
}

// addBags judges the bags, and shares what the stores of their stations hold among them as the shortage report does.
// Training bags claim nothing: each is shown what its pick list finds.
func (s *Service) addBags(r inventory.Reader, d *Desk, seen []string) error {
	views, err := lists.LoadBags(r, inventory.BagFilter{AtStations: seen}, inventory.Page{})
	if err != nil {
		return err
	}
	g, err := lists.StoresOf(r, inventory.ForIssue, seen)
	if err != nil {
		return err
	}
	training, err := lists.StoresOf(r, inventory.ForTraining, seen)
	if err != nil {
		return err
	}
	trainingStores := training.StoresByStation()
	for _, v := range views {
		if v.Bag.Purpose == inventory.ForIssue {
			g.Bags = append(g.Bags, v)
		}
	}
	lacks, has := map[string]int{}, map[string]int{}
	rep := inventory.ShortagesOf(g, s.now(), 0, 0)
	for _, row := range rep.Rows {
		lacks[row.Bag] += row.Shortfall
	}
	for _, f := range rep.Fill {
		if f.Kind == inventory.FillRestock {
			has[f.Bag] += f.Qty
		}
	}
	ask := lists.Outlook{Horizon: -1}
	for _, v := range views {
		read := inventory.ReadinessOf(v, s.now(), 0, ask.Days())
		if v.Bag.Purpose == inventory.ForTraining {
			v.Items = training.Items
			lacks[v.Bag.Code], has[v.Bag.Code] = trainingNeeds(v, read, trainingStores[v.Bag.AtStation], s.now())
		}
		n := lacks[v.Bag.Code]
		if b, ok := deskBag(read, n, min(n, has[v.Bag.Code])); ok {
			b.BagSummary = lists.Summary(v.Bag, read)
			if b.Next == StepFind && v.Bag.Purpose == inventory.ForTraining {
				b.Next = StepRestock // the report of what to transfer or buy knows no training bags
			}
			d.Bags = append(d.Bags, b)
		} else {
			d.Others++
		}
	}
	slices.SortFunc(d.Bags, byUrgency)
	return nil
}

// trainingNeeds is how many units a training bag misses to par, and how many of them its station's stores have for it.
func trainingNeeds(v inventory.BagView, read inventory.Readiness, stores []inventory.Stock,
	now inventory.Instant) (lacks, has int) {
	for _, l := range read.Lines {
		lacks += l.Shortfall
	}
	has = lacks
	for _, u := range inventory.PickListOf(v, stores, nil, now, 0).Unfilled {
		has -= u.Qty
	}
	return lacks, max(0, has)
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
