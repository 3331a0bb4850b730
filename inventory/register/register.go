package register

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/stock"
)

// RegisterFilter narrows a list of registers; empty fields do not narrow.
type RegisterFilter struct {
	Item     string
	Place    string
	Stations []string
}

// RegisterKept is how many years a register is kept after its last entry. It never refuses.
func (s *Service) RegisterKept() int {
	return cmp.Or(s.keepYears, RegisterYears)
}

// StockOf lists the lots of a controlled item that lie in a place, by lot id. Refuses as Register does: Forbidden,
// NotFound.
func (s *Service) StockOf(ctx context.Context, by inventory.Actor, item, place string) ([]stock.LotSummary, error) {
	p, err := s.Register(ctx, by, item, place, Period{})
	if err != nil {
		return nil, err
	}
	lots, err := s.stock.StockAt(ctx, by, p.Place)
	return slices.DeleteFunc(lots, func(l stock.LotSummary) bool { return l.Item != p.Item }), err
}

// Register returns the page of one controlled item at one place, with the entries of a period in the order of
// recording. Refuses: Forbidden without see where the place is; NotFound for either, and for an item that is not
// controlled.
func (s *Service) Register(ctx context.Context, by inventory.Actor, item, place string,
	period Period) (RegisterPage, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (RegisterPage, error) {
		return s.registerPage(r, by, inventory.NormalCode(item), ledger.PlaceCode(place), period)
	})
}

func (s *Service) registerPage(r inventory.Reader, by inventory.Actor, item, place string,
	period Period) (RegisterPage, error) {
	if err := by.Must(inventory.ActSee, ""); err != nil {
		return RegisterPage{}, err
	}
	b := RegisterBook{Years: s.RegisterKept(), Now: s.now(), Period: period, BatchNos: map[int64]string{},
		Owed: map[int64]inventory.OwedEntry{}}
	var err error
	if b.Place, b.Station, err = registerPlace(r, by, place); err != nil {
		return RegisterPage{}, err
	}
	if b.Item, err = controlled(r, item); err != nil {
		return RegisterPage{}, err
	}
	if b.Movements, err = r.Movements(inventory.MovementFilter{Item: item, Place: place}, inventory.Page{}); err != nil {
		return RegisterPage{}, err
	}
	lots, err := r.Lots(inventory.LotFilter{Item: item}, inventory.Page{})
	if err != nil {
		return RegisterPage{}, err
	}
	for _, l := range lots {
		b.BatchNos[l.ID] = l.BatchNo
	}
	owed, err := r.OwedEntries(inventory.OwedFilter{Item: item, Places: []string{place}})
	if err != nil {
		return RegisterPage{}, err
	}
	for _, o := range owed {
		b.Owed[o.ID] = o
	}
	if b.Checks, err = r.BalanceChecks(inventory.BalanceFilter{Item: item, Places: []string{place}}); err != nil {
		return RegisterPage{}, err
	}
	p := RegisterOf(b)
	p.Open, err = r.Discrepancies(inventory.DiscrepancyFilter{Item: item, Places: []string{place}, Open: true})
	return p, err
}

// controlled returns an item that a register is kept of.
func controlled(r inventory.Reader, code string) (inventory.Item, error) {
	it, err := r.Item(code)
	if err == nil && !it.Controlled {
		err = inventory.Refuse(inventory.NotFound, "no register: not a controlled item")
	}
	return it, err
}

// registerPlace returns a place whose registers an actor may see, and the station
// where it is. Its register stays readable at the station that owns it.
func registerPlace(r inventory.Reader, by inventory.Actor, code string) (inventory.Place, inventory.Station, error) {
	pl, err := r.Place(code)
	if err == nil && pl.Outside() {
		err = inventory.Refuse(inventory.NotFound, "not found")
	}
	if err != nil {
		return pl, inventory.Station{}, err
	}
	if err := scope.MaySee(by, r, pl); err != nil {
		return pl, inventory.Station{}, err
	}
	at := pl.Station
	if pl.Kind == inventory.KindBag {
		b, err := r.Bag(pl.Code)
		if err != nil {
			return pl, inventory.Station{}, err
		}
		at = b.AtStation
	}
	station, err := r.Station(at)
	return pl, station, err
}

// Registers lists the pages of the register at the actor's stations, or at some of them, without their entries: by
// station, place and item. Refuses: Forbidden without see, and for a station or place that is not the actor's;
// NotFound for either.
func (s *Service) Registers(ctx context.Context, by inventory.Actor, f RegisterFilter) ([]RegisterPage,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]RegisterPage,
		error) {
		seen, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		if err := scope.PlaceAsked(by, r, f.Place); err != nil {
			return nil, err
		}
		l, err := readLedger(r)
		if err != nil {
			return nil, err
		}
		return l.pages(f, seen, s.RegisterKept(), s.now()), nil
	})
}

// AtStation is the registers at a station, and the entries there that lack a signature.
type AtStation struct {
	Station string
	Pages   []RegisterPage
	Owed    []OwedRow
	Open    []Case // discrepancies
}

// AtStations lists the registers and what is owed at each of the actor's stations, or at each of some of them, by
// station. A bag that is lent is listed where it is, and where it belongs. Refuses: Forbidden without see, and for a
// station that is not the actor's; NotFound for a station.
func (s *Service) AtStations(ctx context.Context, by inventory.Actor, stations []string) ([]AtStation, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]AtStation, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return nil, err
		}
		l, err := readLedger(r)
		var out []AtStation
		for _, code := range slices.Sorted(maps.Keys(l.stations)) {
			if here := []string{code}; len(seen) == 0 || slices.Contains(seen, code) {
				out = append(out, AtStation{code, l.pages(RegisterFilter{}, here, s.RegisterKept(), s.now()),
					l.owedRows(l.owed, here), l.cases(l.open, here)})
			}
		}
		return out, err
	})
}

// PageOf names an item at a place.
type PageOf struct{ Item, Place string }

// whereabouts is the items of registers, and where their places are.
type whereabouts struct {
	items  map[string]inventory.Item
	places map[string]inventory.Place
	at     map[string]string // bag → the station where it is
}

// readWhereabouts reads where some places are.
func readWhereabouts(r inventory.Reader, of []string) (whereabouts, error) {
	w := whereabouts{places: map[string]inventory.Place{}, at: map[string]string{}}
	var errs [3]error
	w.items, errs[0] = lists.ItemsByCode(r, inventory.ItemFilter{})
	slices.Sort(of)
	if of = slices.Compact(of); len(of) == 0 {
		return w, errs[0]
	}
	places, err := r.Places(inventory.PlaceFilter{Codes: of}, inventory.Page{})
	for _, p := range places {
		w.places[p.Code] = p
	}
	errs[1] = err
	bags, err := r.Bags(inventory.BagFilter{Codes: of, Retired: true}, inventory.Page{})
	for _, b := range bags {
		w.at[b.Code] = b.AtStation
	}
	errs[2] = err
	return w, cmp.Or(errs[:]...)
}

// where returns the station where a place is.
func (w whereabouts) where(p inventory.Place) string { return cmp.Or(w.at[p.Code], p.Station) }

// seen tells whether a place belongs to stations or is there; nil means all.
func (w whereabouts) seen(p inventory.Place, stations []string) bool {
	return len(stations) == 0 || slices.Contains(stations, p.Station) || slices.Contains(stations, w.where(p))
}

// registerLedger is what all pages are summed up from.
type registerLedger struct {
	whereabouts
	keys     []inventory.PageKey
	stations map[string]inventory.Station
	held     map[PageOf]int
	owed     []inventory.OwedEntry
	checks   map[PageOf]inventory.BalanceCheck
	open     []inventory.Discrepancy
}

func readLedger(r inventory.Reader) (registerLedger, error) {
	l := registerLedger{held: map[PageOf]int{}, checks: map[PageOf]inventory.BalanceCheck{}}
	var errs [7]error
	l.keys, errs[1] = r.RegisterKeys()
	l.stations, errs[2] = lists.StationsByCode(r)
	l.owed, errs[3] = r.OwedEntries(inventory.OwedFilter{Open: true})
	checks, err := r.BalanceChecks(inventory.BalanceFilter{Latest: true})
	for _, c := range checks {
		l.checks[PageOf{c.Item, c.Place}] = c
	}
	errs[4] = err
	l.open, errs[6] = r.Discrepancies(inventory.DiscrepancyFilter{Open: true})
	var controlled, places []string
	for _, k := range l.keys { // they come by item
		controlled, places = append(controlled, k.Item), append(places, k.Place)
	}
	for _, o := range l.owed {
		places = append(places, o.From)
	}
	for _, d := range l.open {
		places = append(places, d.Place)
	}
	l.whereabouts, errs[0] = readWhereabouts(r, places)
	if len(controlled) > 0 {
		var stock []inventory.Stock
		stock, errs[5] = r.Stock(inventory.StockFilter{Items: slices.Compact(controlled)})
		for _, st := range stock {
			l.held[PageOf{st.Lot.Item, st.Place}] += st.Qty
		}
	}
	return l, cmp.Or(errs[:]...)
}

// pages sums up the pages at stations, at all where none is named: by station, place and item.
func (l registerLedger) pages(f RegisterFilter, stations []string, years int,
	now inventory.Instant) []RegisterPage {
	owed := map[PageOf]int{}
	for _, o := range l.owed {
		for _, place := range slices.Compact([]string{o.From, o.To}) {
			owed[PageOf{o.Item, place}]++
		}
	}
	out := []RegisterPage{}
	for _, k := range l.keys {
		pl, known := l.places[k.Place]
		if f.Item != "" && k.Item != f.Item || f.Place != "" && k.Place != f.Place || !known || !l.seen(pl, stations) {
			continue
		}
		p := l.summary(k, pl, years, now)
		p.Owed = owed[PageOf{k.Item, k.Place}]
		for _, d := range l.open {
			if d.Item == k.Item && d.Place == k.Place {
				p.Open = append(p.Open, d)
			}
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b RegisterPage) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Item, b.Item))
	})
	return out
}

func (l registerLedger) summary(k inventory.PageKey, pl inventory.Place, years int,
	now inventory.Instant) RegisterPage {
	it, station, of := l.items[k.Item], l.stations[l.where(pl)], PageOf{k.Item, k.Place}
	p := RegisterPage{Item: it.Code, Name: it.Name, Strength: it.Strength, DoseForm: it.Form, Unit: it.Unit,
		Place: pl.Code, PlaceName: pl.Name, Kind: pl.Kind,
		Holder: pl.Holder, Station: station.Code, Balance: l.held[of], LastEntry: k.LastEntry,
		KeepUntil: station.Today(k.LastEntry).AddMonths(12 * years)}
	if c, ok := l.checks[of]; ok {
		p.LastCheck, p.Differs = &c, c.Differs()
		p.ToCount(station, 0, now)
	}
	return p
}

// RecordBalanceCheck keeps what two people counted of a controlled item in a place, in units, beside what the ledger
// holds. One that differs stops the bag until a later one agrees, and opens a discrepancy, which stays open until two
// people close it; stock changes only by movements. Refuses:
// Forbidden without check where the place is; Invalid by field, and without two signatures; Conflict at a closed
// station. Locks the station.
func (s *Service) RecordBalanceCheck(ctx context.Context, by inventory.Actor,
	in inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActCheck, func(w inventory.Writer) (inventory.BalanceCheck,
		error) {
		in.Item, in.Place, in.RecordedAt = inventory.NormalCode(in.Item), ledger.PlaceCode(in.Place), s.now()
		pl, station, err := registerPlace(w, by.WithoutScope(), in.Place)
		if err != nil {
			return in, inventory.AsField(err, "place", "not found")
		}
		if err := cmp.Or(by.Must(inventory.ActCheck, station.Code), station.MustBeOpen()); err != nil {
			return in, err
		}
		it, err := controlled(w, in.Item)
		if err != nil {
			return in, inventory.AsField(err, "item", "choose a controlled item")
		}
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, in.RecordedAt, "happened_at"); err != nil {
			return in, err
		}
		var ps inventory.Problems
		ps.When(in.Counted < 0 || in.Counted > inventory.MaxQty, "counted", "enter {1} to {2}", 0, inventory.MaxQty)
		inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return in, err
		}
		signed := by.Proven(in.RecordedAt)
		if signed.First == "" || signed.Second == "" {
			return in, account.ErrUnsigned
		}
		in.By, in.Witness = signed.First, signed.Second
		if in, err = s.addBalanceCheck(w, pl, in); err != nil {
			return in, err
		}
		return in, differed(w, in, it.Name)
	})
}

// addBalanceCheck reads what the ledger holds while nothing can move there.
func (s *Service) addBalanceCheck(w inventory.Writer, pl inventory.Place,
	in inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	if err := w.LockStations([]string{pl.Station}); err != nil {
		return in, err
	}
	stock, err := w.Stock(inventory.StockFilter{Places: []string{in.Place}, Items: []string{in.Item}})
	if err != nil {
		return in, err
	}
	in.Expected, in.After = 0, 0
	for _, st := range stock {
		in.Expected += st.Qty
	}
	last, err := w.Movements(inventory.MovementFilter{Item: in.Item, Place: in.Place, Newest: true},
		inventory.Page{Limit: 1})
	if err != nil {
		return in, err
	}
	for _, m := range last {
		in.After = m.ID
	}
	return w.AddBalanceCheck(in)
}
