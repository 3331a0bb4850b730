package register

import (
	"cmp"
	"context"
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

// RegisterKept is how many years a register is kept after its last entry.
func (s *Service) RegisterKept() int {
	return cmp.Or(s.keepYears, inventory.RegisterYears)
}

// StockOf lists the lots of a controlled item that lie in a place, as they are
// picked.
func (s *Service) StockOf(ctx context.Context, by inventory.Actor, item, place string) ([]stock.LotSummary, error) {
	p, err := s.Register(ctx, by, item, place)
	if err != nil {
		return nil, err
	}
	lots, err := s.stock.StockAt(ctx, by, p.Place)
	return slices.DeleteFunc(lots, func(l stock.LotSummary) bool { return l.Item != p.Item }), err
}

// Register returns the page of one controlled item at one place.
func (s *Service) Register(ctx context.Context, by inventory.Actor, item, place string) (inventory.RegisterPage,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.RegisterPage, error) {
		return s.registerPage(r, by, inventory.NormalCode(item), ledger.PlaceCode(place))
	})
}

func (s *Service) registerPage(r inventory.Reader, by inventory.Actor, item, place string) (inventory.RegisterPage,
	error) {
	if err := by.Must(inventory.ActSee, ""); err != nil {
		return inventory.RegisterPage{}, err
	}
	b := inventory.RegisterBook{Years: s.RegisterKept(), Now: s.now(), BatchNos: map[int64]string{},
		Owed: map[int64]inventory.OwedEntry{}}
	var err error
	if b.Place, b.Station, err = registerPlace(r, by, place); err != nil {
		return inventory.RegisterPage{}, err
	}
	if b.Item, err = controlled(r, item); err != nil {
		return inventory.RegisterPage{}, err
	}
	if b.Movements, err = r.Movements(inventory.MovementFilter{Item: item, Place: place}, inventory.Page{}); err != nil {
		return inventory.RegisterPage{}, err
	}
	lots, err := r.Lots(inventory.LotFilter{Item: item}, inventory.Page{})
	if err != nil {
		return inventory.RegisterPage{}, err
	}
	for _, l := range lots {
		b.BatchNos[l.ID] = l.BatchNo
	}
	owed, err := r.OwedEntries(inventory.OwedFilter{Item: item, Places: []string{place}})
	if err != nil {
		return inventory.RegisterPage{}, err
	}
	for _, o := range owed {
		b.Owed[o.ID] = o
	}
	b.Checks, err = r.BalanceChecks(inventory.BalanceFilter{Item: item, Places: []string{place}})
	return inventory.RegisterOf(b), err
}

// controlled returns an item that a register is kept of.
func controlled(r inventory.Reader, code string) (inventory.Item, error) {
	it, err := r.Item(code)
	if err == nil && !it.Controlled {
		err = inventory.Errorf(inventory.NotFound, "no register is kept of this item: it is not a controlled one")
	}
	return it, err
}

// registerPlace returns a place whose registers an actor may see, and the station
// where it is. Its register stays readable at the station that owns it.
func registerPlace(r inventory.Reader, by inventory.Actor, code string) (inventory.Place, inventory.Station, error) {
	pl, err := r.Place(code)
	if err == nil && pl.Outside() {
		err = inventory.Errorf(inventory.NotFound, "no such place")
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

// Registers lists the pages of the register at the actor's stations, or at some of
// them, without their entries: by place, then by item.
func (s *Service) Registers(ctx context.Context, by inventory.Actor, f RegisterFilter) ([]inventory.RegisterPage,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.RegisterPage, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		if err := scope.PlaceAsked(by, r, f.Place); err != nil {
			return nil, err
		}
		keys, err := r.RegisterKeys()
		if err != nil || len(keys) == 0 {
			return []inventory.RegisterPage{}, err
		}
		l, err := s.registerLedger(r)
		if err != nil {
			return nil, err
		}
		out := []inventory.RegisterPage{}
		for _, k := range keys {
			pl, known := l.places[k.Place]
			if f.Item != "" && k.Item != f.Item || f.Place != "" && k.Place != f.Place || !known || !l.seen(pl, seen) {
				continue
			}
			out = append(out, l.summary(k, pl, s.RegisterKept(), s.now()))
		}
		slices.SortStableFunc(out, func(a, b inventory.RegisterPage) int {
			return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Item, b.Item))
		})
		return out, nil
	})
}

// PageOf names an item at a place.
type PageOf struct{ Item, Place string }

// registerLedger is what all pages are summed up from.
type registerLedger struct {
	items    map[string]inventory.Item
	stations map[string]inventory.Station
	places   map[string]inventory.Place
	at       map[string]string // bag → the station where it is
	held     map[PageOf]int
	owed     map[PageOf]int
	checks   map[PageOf]inventory.BalanceCheck
}

func (s *Service) registerLedger(r inventory.Reader) (l registerLedger, err error) {
	l = registerLedger{places: map[string]inventory.Place{}, at: map[string]string{}, held: map[PageOf]int{},
		owed: map[PageOf]int{}, checks: map[PageOf]inventory.BalanceCheck{}}
	if l.items, err = lists.ItemsByCode(r, inventory.ItemFilter{}); err != nil {
		return l, err
	}
	if l.stations, err = lists.StationsByCode(r); err != nil {
		return l, err
	}
	places, err := r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return l, err
	}
	for _, p := range places {
		l.places[p.Code] = p
	}
	bags, err := r.Bags(inventory.BagFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return l, err
	}
	for _, b := range bags {
		l.at[b.Code] = b.AtStation
	}
	for code, it := range l.items {
		if !it.Controlled {
			continue
		}
		stock, err := r.Stock(inventory.StockFilter{Items: []string{code}})
		if err != nil {
			return l, err
		}
		for _, st := range stock {
			l.held[PageOf{Item: code, Place: st.Place}] += st.Qty
		}
	}
	checks, err := r.BalanceChecks(inventory.BalanceFilter{Latest: true})
	if err != nil {
		return l, err
	}
	for _, c := range checks {
		l.checks[PageOf{Item: c.Item, Place: c.Place}] = c
	}
	owed, err := r.OwedEntries(inventory.OwedFilter{Open: true})
	if err != nil {
		return l, err
	}
	for _, o := range owed {
		for _, place := range []string{o.From, o.To} {
			l.owed[PageOf{Item: o.Item, Place: place}]++
		}
	}
	return l, nil
}

// where returns the station where a place is.
func (l registerLedger) where(p inventory.Place) string { return cmp.Or(l.at[p.Code], p.Station) }

// seen tells whether a place belongs to stations or is there; nil means all.
func (l registerLedger) seen(p inventory.Place, stations []string) bool {
	return len(stations) == 0 || slices.Contains(stations, p.Station) || slices.Contains(stations, l.where(p))
}

func (l registerLedger) summary(k inventory.PageKey, pl inventory.Place, years int,
	now inventory.Instant) inventory.RegisterPage {
	it, station := l.items[k.Item], l.stations[l.where(pl)]
	of := PageOf{Item: k.Item, Place: k.Place}
	p := inventory.RegisterPage{Item: it.Code, Name: it.Name, Strength: it.Strength, Form: it.Form, Unit: it.Unit,
		Place: pl.Code, PlaceName: pl.Name, Kind: pl.Kind,
		Holder: pl.Holder, Station: station.Code, Balance: l.held[of], Owed: l.owed[of], LastEntry: k.LastEntry,
		KeepUntil: station.Today(k.LastEntry).AddMonths(12 * years)}
	if c, ok := l.checks[of]; ok {
		p.LastCheck, p.Differs = &c, c.Differs()
		p.ToCount(station, 0, now)
	}
	return p
}

// RecordBalanceCheck keeps what two people counted of a controlled item in a
// place, beside what the ledger holds. One that differs stops the bag until a
// later one agrees; stock changes only by movements.
func (s *Service) RecordBalanceCheck(ctx context.Context, by inventory.Actor,
	in inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.BalanceCheck, error) {
		if err := by.Must(inventory.ActCheck, ""); err != nil {
			return in, err
		}
		in.Item, in.Place, in.RecordedAt = inventory.NormalCode(in.Item), ledger.PlaceCode(in.Place), s.now()
		pl, station, err := registerPlace(w, by.WithoutScope(), in.Place)
		if err != nil {
			return in, inventory.AsField(err, "place", "place")
		}
		if err := by.Must(inventory.ActCheck, station.Code); err != nil {
			return in, err
		}
		if _, err := controlled(w, in.Item); err != nil {
			return in, inventory.AsField(err, "item", "controlled item")
		}
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, in.RecordedAt, "happened_at"); err != nil {
			return in, err
		}
		var ps inventory.Problems
		ps.When(in.Counted < 0 || in.Counted > inventory.MaxQty, "counted", "give 0 to %d units", inventory.MaxQty)
		inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return in, err
		}
		signed := by.Proven(in.RecordedAt)
		if signed.First == "" || signed.Second == "" {
			return in, account.ErrUnsigned
		}
		in.By, in.Witness = signed.First, signed.Second
		return s.addBalanceCheck(w, pl, in)
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
