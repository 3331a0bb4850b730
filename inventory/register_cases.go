package inventory

import (
	"cmp"
	"context"
	"slices"
)

// RegisterFilter narrows a list of registers; empty fields do not narrow.
type RegisterFilter struct {
	Item  string
	Place string
	Sites []string
}

// PageKey names a page of the register that has an entry.
type PageKey struct {
	Item, Place string
	LastEntry   Instant
}

// OwedFilter narrows a list of entries that one person recorded alone.
type OwedFilter struct {
	Item   string
	Places []string // from or to
	Open   bool     // only those that still lack a signature
}

// BalanceFilter narrows a list of balance checks.
type BalanceFilter struct {
	Item   string
	Places []string
	Latest bool // only the newest of each item and place
	Differ bool // only those that found another number
}

// RegisterKept is how many years a register is kept after its last entry.
func (s *Service) RegisterKept() int { return cmp.Or(s.KeepRegisters, RegisterYears) }

// StockOf lists the lots of a controlled item that lie in a place, as they are
// picked.
func (s *Service) StockOf(ctx context.Context, by Actor, item, place string) ([]LotSummary, error) {
	p, err := s.Register(ctx, by, item, place)
	if err != nil {
		return nil, err
	}
	lots, err := s.StockAt(ctx, by, p.Place)
	return slices.DeleteFunc(lots, func(l LotSummary) bool { return l.Item != p.Item }), err
}

// Register returns the page of one controlled item at one place.
func (s *Service) Register(ctx context.Context, by Actor, item, place string) (RegisterPage, error) {
	return read(ctx, s, func(r Reader) (RegisterPage, error) {
		return s.registerPage(r, by, NormalCode(item), placeCode(place))
	})
}

func (s *Service) registerPage(r Reader, by Actor, item, place string) (RegisterPage, error) {
	if err := by.must(ActSee, ""); err != nil {
		return RegisterPage{}, err
	}
	b := RegisterBook{Years: s.RegisterKept(), Now: s.Now(), LotNos: map[int64]string{}, Owed: map[int64]OwedEntry{}}
	var err error
	if b.Place, b.Site, err = registerPlace(r, by, place); err != nil {
		return RegisterPage{}, err
	}
	if b.Item, err = controlled(r, item); err != nil {
		return RegisterPage{}, err
	}
	if b.Movements, err = r.Movements(MovementFilter{Item: item, Place: place}, Page{}); err != nil {
		return RegisterPage{}, err
	}
	lots, err := r.Lots(LotFilter{Item: item}, Page{})
	if err != nil {
		return RegisterPage{}, err
	}
	for _, l := range lots {
		b.LotNos[l.ID] = l.LotNo
	}
	owed, err := r.OwedEntries(OwedFilter{Item: item, Places: []string{place}})
	if err != nil {
		return RegisterPage{}, err
	}
	for _, o := range owed {
		b.Owed[o.ID] = o
	}
	b.Checks, err = r.BalanceChecks(BalanceFilter{Item: item, Places: []string{place}})
	return RegisterOf(b), err
}

// controlled returns an item that a register is kept of.
func controlled(r Reader, code string) (Item, error) {
	it, err := r.Item(code)
	if err == nil && !it.Witnessed {
		err = Errorf(NotFound, "no register is kept of this item: it is not a controlled one")
	}
	return it, err
}

// registerPlace returns a place whose registers an actor may see, and the site
// where it is. Its register stays readable at the site that owns it.
func registerPlace(r Reader, by Actor, code string) (Place, Site, error) {
	pl, err := r.Place(code)
	if err == nil && pl.Outside() {
		err = Errorf(NotFound, "no such place")
	}
	if err != nil {
		return pl, Site{}, err
	}
	if err := by.maySee(r, pl); err != nil {
		return pl, Site{}, err
	}
	at := pl.Site
	if pl.Kind == KindBag {
		b, err := r.Bag(pl.Code)
		if err != nil {
			return pl, Site{}, err
		}
		at = b.AtSite
	}
	site, err := r.Site(at)
	return pl, site, err
}

// Registers lists the pages of the register at the actor's sites, or at some of
// them, without their entries: by place, then by item.
func (s *Service) Registers(ctx context.Context, by Actor, f RegisterFilter) ([]RegisterPage, error) {
	return read(ctx, s, func(r Reader) ([]RegisterPage, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.narrowed(r, f.Sites)
		if err != nil {
			return nil, err
		}
		if err := by.placeAsked(r, f.Place); err != nil {
			return nil, err
		}
		keys, err := r.RegisterKeys()
		if err != nil || len(keys) == 0 {
			return []RegisterPage{}, err
		}
		l, err := s.registerLedger(r)
		if err != nil {
			return nil, err
		}
		out := []RegisterPage{}
		for _, k := range keys {
			pl, known := l.places[k.Place]
			if f.Item != "" && k.Item != f.Item || f.Place != "" && k.Place != f.Place || !known || !l.seen(pl, seen) {
				continue
			}
			out = append(out, l.summary(k, pl, s.RegisterKept(), s.Now()))
		}
		slices.SortStableFunc(out, func(a, b RegisterPage) int {
			return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Item, b.Item))
		})
		return out, nil
	})
}

// pageOf names an item at a place.
type pageOf struct{ item, place string }

// registerLedger is what all pages are summed up from.
type registerLedger struct {
	items  map[string]Item
	sites  map[string]Site
	places map[string]Place
	at     map[string]string // bag → the site where it is
	held   map[pageOf]int
	owed   map[pageOf]int
	checks map[pageOf]BalanceCheck
}

func (s *Service) registerLedger(r Reader) (l registerLedger, err error) {
	l = registerLedger{places: map[string]Place{}, at: map[string]string{}, held: map[pageOf]int{}, owed: map[pageOf]int{}, checks: map[pageOf]BalanceCheck{}}
	if l.items, err = itemsByCode(r, ItemFilter{}); err != nil {
		return l, err
	}
	if l.sites, err = sitesByCode(r); err != nil {
		return l, err
	}
	places, err := r.Places(PlaceFilter{Retired: true}, Page{})
	if err != nil {
		return l, err
	}
	for _, p := range places {
		l.places[p.Code] = p
	}
	bags, err := r.Bags(BagFilter{Retired: true}, Page{})
	if err != nil {
		return l, err
	}
	for _, b := range bags {
		l.at[b.Code] = b.AtSite
	}
	for code, it := range l.items {
		if !it.Witnessed {
			continue
		}
		stock, err := r.Stock(StockFilter{Item: code})
		if err != nil {
			return l, err
		}
		for _, st := range stock {
			l.held[pageOf{code, st.Place}] += st.Qty
		}
	}
	checks, err := r.BalanceChecks(BalanceFilter{Latest: true})
	if err != nil {
		return l, err
	}
	for _, c := range checks {
		l.checks[pageOf{c.Item, c.Place}] = c
	}
	owed, err := r.OwedEntries(OwedFilter{Open: true})
	if err != nil {
		return l, err
	}
	for _, o := range owed {
		for _, place := range []string{o.From, o.To} {
			l.owed[pageOf{o.Item, place}]++
		}
	}
	return l, nil
}

// where returns the site where a place is.
func (l registerLedger) where(p Place) string { return cmp.Or(l.at[p.Code], p.Site) }

// seen tells whether a place belongs to sites or is there; nil means all.
func (l registerLedger) seen(p Place, sites []string) bool {
	return len(sites) == 0 || slices.Contains(sites, p.Site) || slices.Contains(sites, l.where(p))
}

func (l registerLedger) summary(k PageKey, pl Place, years int, now Instant) RegisterPage {
	it, site := l.items[k.Item], l.sites[l.where(pl)]
	of := pageOf{k.Item, k.Place}
	p := RegisterPage{Item: it.Code, Name: it.Name, Strength: it.Strength, Form: it.Form, Unit: it.Unit, Place: pl.Code, PlaceName: pl.Name, Kind: pl.Kind,
		Holder: pl.Holder, Site: site.Code, Balance: l.held[of], Owed: l.owed[of], LastEntry: k.LastEntry,
		KeepUntil: site.Today(k.LastEntry).AddMonths(12 * years)}
	if c, ok := l.checks[of]; ok {
		p.LastCheck, p.Differs = &c, c.Differs()
		p.toCount(site, 0, now)
	}
	return p
}

// RecordBalanceCheck keeps what two people counted of a controlled item in a
// place, beside what the ledger holds. One that differs stops the bag until a
// later one agrees; stock changes only by movements.
func (s *Service) RecordBalanceCheck(ctx context.Context, by Actor, in BalanceCheck) (BalanceCheck, error) {
	return write(ctx, s, func(w Writer) (BalanceCheck, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return in, err
		}
		in.Item, in.Place, in.RecordedAt = NormalCode(in.Item), placeCode(in.Place), s.Now()
		pl, site, err := registerPlace(w, by.Whole(), in.Place)
		if err != nil {
			return in, known(err, "place", "place")
		}
		if err := by.must(ActCheck, site.Code); err != nil {
			return in, err
		}
		if _, err := controlled(w, in.Item); err != nil {
			return in, known(err, "item", "controlled item")
		}
		if in.HappenedAt, err = happened(in.HappenedAt, in.RecordedAt, "happened_at"); err != nil {
			return in, err
		}
		var ps problems
		ps.when(in.Counted < 0 || in.Counted > MaxQty, "counted", "give 0 to %d units", MaxQty)
		checkText(&ps, "note", in.Note, false, MaxNote)
		if err := ps.err(); err != nil {
			return in, err
		}
		signed := by.proven(in.RecordedAt)
		if signed.first == "" || signed.second == "" {
			return in, errUnsigned
		}
		in.By, in.Witness = signed.first, signed.second
		return s.addBalanceCheck(w, pl, in)
	})
}

// addBalanceCheck reads what the ledger holds while nothing can move there.
func (s *Service) addBalanceCheck(w Writer, pl Place, in BalanceCheck) (BalanceCheck, error) {
	if err := w.LockSites([]string{pl.Site}); err != nil {
		return in, err
	}
	stock, err := w.Stock(StockFilter{Places: []string{in.Place}, Item: in.Item})
	if err != nil {
		return in, err
	}
	in.Expected, in.After = 0, 0
	for _, st := range stock {
		in.Expected += st.Qty
	}
	last, err := w.Movements(MovementFilter{Item: in.Item, Place: in.Place, Newest: true}, Page{Limit: 1})
	if err != nil {
		return in, err
	}
	for _, m := range last {
		in.After = m.ID
	}
	return w.AddBalanceCheck(in)
}

// keepsRegister holds each page to one class of drug, as its head says (UK
// Misuse of Drugs Regulations 2001, reg. 19 and 20(a)): it refuses a change
// that would take an item out of its register, or change its strength or form.
func keepsRegister(r Reader, old, in Item) error {
	same := func(old, now string) bool { return old == "" || now == old }
	if !old.Witnessed || in.Witnessed && same(old.Strength, in.Strength) && same(old.Form, in.Form) {
		return nil
	}
	moved, err := r.Movements(MovementFilter{Item: old.Code}, Page{Limit: 1})
	if err == nil && len(moved) > 0 {
		err = Errorf(Conflict, "the register of this item has entries, so it stays a controlled one, of this strength and form; make a new item instead")
	}
	return err
}
