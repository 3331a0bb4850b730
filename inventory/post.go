package inventory

import (
	"context"
	"errors"
	"strconv"
	"time"
)

// MaxQty is the most units that one movement carries.
const MaxQty = 1_000_000

// MaxLineQty is the most units in one line of what was found or used.
const MaxLineQty = 10_000

// clockSkew is how far ahead a phone's clock may be before a time counts as
// lying in the future.
const clockSkew = 5 * time.Minute

// earliest is the first instant that falls on a day in range in every zone.
var earliest = InstantOf(time.Date(1900, 1, 2, 0, 0, 0, 0, time.UTC))

// poster prepares movements inside one unit of work and posts them together.
type poster struct {
	w       Writer
	by      Actor
	now     Instant
	places  map[string]Place
	items   map[string]Item
	sites   map[string]Site
	bags    map[string]Bag // that something is to be put into
	lots    map[int64]lotFacts
	batches map[string]*itemBatches
	many    bool                // many units are coming in: look their batches up in memory
	fresh   Lot                 // looked up last for a receipt
	notices map[string][]Notice // of items that are locked
	alone   bool                // a crew's use, which one person may record: see sign
	trial   bool                // what is posted will be undone: nobody signs for it
	wanted  bool                // signatures would have been wanted for a trial
}

// lotFacts are what never changes of a lot.
type lotFacts struct {
	item   string
	device int64 // its batch, 0 for a lot that is no device
}

func newPoster(w Writer, by Actor, now Instant) *poster {
	return &poster{w: w, by: by, now: now, places: map[string]Place{}, items: map[string]Item{}, sites: map[string]Site{}, bags: map[string]Bag{}, lots: map[int64]lotFacts{},
		batches: map[string]*itemBatches{}, notices: map[string][]Notice{}}
}

// cached looks a value up once per unit of work.
func cached[K comparable, T any](m map[K]T, key K, get func(K) (T, error)) (T, error) {
	if v, ok := m[key]; ok {
		return v, nil
	}
	v, err := get(key)
	if err == nil {
		m[key] = v
	}
	return v, err
}

func (p *poster) place(code string) (Place, error) { return cached(p.places, code, p.w.Place) }
func (p *poster) item(code string) (Item, error)   { return cached(p.items, code, p.w.Item) }
func (p *poster) site(code string) (Site, error)   { return cached(p.sites, code, p.w.Site) }

// lot returns a lot, without asking twice for one that just came in.
func (p *poster) lot(id int64) (Lot, error) {
	if p.fresh.ID == id && id != 0 {
		return p.fresh, nil
	}
	return p.w.Lot(id)
}

// may refuses an action at a place that is at a site not the actor's.
func (p *poster) may(act Action, pl Place) error {
	if pl.Outside() {
		return p.by.must(act, "")
	}
	site, err := p.siteHere(pl)
	if err != nil {
		return err
	}
	return p.by.must(act, site.Code)
}

// happened brings the time at which something happened into range: left out it
// is now; a little ahead is a phone's clock; further ahead is refused. It stands
// beside the time of recording, so that a register has the date on which it
// really happened (21 CFR 1304.21(d)).
func happened(at, now Instant, path string) (Instant, error) {
	switch {
	case at == 0:
		return now, nil
	case at < earliest:
		return 0, Invalidf(path, "give a time after 1900-01-01")
	case at > now.Add(clockSkew):
		return 0, Invalidf(path, "give a time that has passed")
	}
	return min(at, now), nil
}

// post judges movements by every rule and appends them. All or none: on an
// error the unit of work must be given up. Paths of wrong fields begin with
// path and the index of the movement. Where a device moves more than once, each
// time is judged by where it is then.
func (p *poster) post(ms []Movement, path string) ([]Movement, error) {
	var done, ready []Movement
	moving := map[int64]bool{}
	flush := func() error {
		posted, err := p.append(ready)
		done, ready = append(done, posted...), nil
		clear(moving)
		return err
	}
	for i, m := range ms {
		facts, err := cached(p.lots, m.LotID, p.factsOf)
		if err != nil {
			return nil, under(known(err, "lot_id", "lot"), path+"["+strconv.Itoa(i)+"]")
		}
		if moving[facts.device] {
			if err := flush(); err != nil {
				return nil, err
			}
		}
		moving[facts.device] = facts.device != 0 // what is no device never waits
		next, err := p.prepare(m)
		if err != nil {
			return nil, under(err, path+"["+strconv.Itoa(i)+"]")
		}
		ready = append(ready, next)
	}
	if err := flush(); err != nil {
		return nil, err
	}
	return done, nil
}

func (p *poster) factsOf(lot int64) (lotFacts, error) {
	l, err := p.lot(lot)
	facts := lotFacts{item: l.Item}
	if l.Device() {
		facts.device = l.Batch.ID
	}
	return facts, err
}

// judge finds out whether movements may happen, stock apart, and moves nothing.
func (p *poster) judge(ms []Movement, path string) ([]Movement, error) {
	out := make([]Movement, 0, len(ms))
	for i, m := range ms {
		ready, err := p.prepare(m)
		if err != nil {
			return nil, under(err, path+"["+strconv.Itoa(i)+"]")
		}
		out = append(out, ready)
	}
	return out, nil
}

// under puts the fields of an Invalid error under a path.
func under(err error, path string) error {
	if KindOf(err) != Invalid || errors.Is(err, errUnsigned) {
		return err
	}
	var ps problems
	ps.take(path, err)
	return ps.err()
}

// prepare judges one movement and fills in what follows from it.
func (p *poster) prepare(m Movement) (Movement, error) {
	if m.Qty < 1 || m.Qty > MaxQty {
		return m, Invalidf("qty", "give 1 to %d units", MaxQty)
	}
	var err error
	if m.HappenedAt, err = happened(m.HappenedAt, p.now, "happened_at"); err != nil {
		return m, err
	}
	if err := checkMovementTexts(m); err != nil {
		return m, err
	}
	if m.Reason == ReasonCorrection || m.Corrects != 0 {
		if m, err = p.correction(m); err != nil {
			return m, err
		}
	}
	from, err := p.place(m.From)
	if err != nil {
		return m, known(err, "from", "place")
	}
	to, err := p.place(m.To)
	if err != nil {
		return m, known(err, "to", "place")
	}
	if m.Reason != ReasonCorrection {
		if m, err = p.forward(m, from, to); err != nil {
			return m, err
		}
	}
	if to.Kind == KindBag {
		if err := p.inService(to.Code); err != nil {
			return m, err
		}
	}
	m.Site, m.RecordedAt = ChainSite(from, to), p.now
	return p.sign(m)
}

func checkMovementTexts(m Movement) error {
	var ps problems
	checkText(&ps, "reference", m.Reference, false, MaxName)
	checkText(&ps, "note", m.Note, false, MaxNote)
	return ps.err()
}

// forward judges a movement that is no correction and finds the lot that the
// units belong to after it.
func (p *poster) forward(m Movement, from, to Place) (Movement, error) {
	if err := Allowed(from, to, m.Reason, m.Cause); err != nil {
		return m, err
	}
	lot, err := p.lot(m.LotID)
	if err != nil {
		return m, known(err, "lot_id", "lot")
	}
	it, err := p.item(lot.Item)
	if err != nil {
		return m, err
	}
	if err := AllowedLot(it, lot, to, m.Reason); err != nil {
		return m, err
	}
	if to.Kind == KindFound && !lot.Unidentified {
		return m, Errorf(Conflict, "only unidentified units are found to be something else")
	}
	if lot.Device() && m.Qty != 1 {
		return m, Invalidf("qty", "a device moves one at a time")
	}
	if m.Reason == ReasonFound {
		if err := p.findable(lot, from); err != nil {
			return m, err
		}
	}
	m.IntoLotID = lot.ID
	if from.Code == to.Code {
		return m, Errorf(Conflict, "the units are there already")
	}
	if err := p.judgeReturn(m, it, lot, from, to); err != nil {
		return m, err
	}
	return p.split(m, it, lot, to)
}

// findable refuses what cannot have been found: units of a batch come from
// found; a device comes from lost where the ledger has it there, and from found
// only where the ledger never had it.
func (p *poster) findable(lot Lot, from Place) error {
	if !lot.Device() {
		if from.Kind == KindLost {
			return Errorf(Conflict, "only a serial number is found from lost; units of a batch come from found")
		}
		return nil
	}
	was, moved, lost, err := lostAs(p.w, lot.Batch.ID)
	switch {
	case err != nil:
		return err
	case !moved && from.Kind == KindFound:
		return nil
	case !lost:
		return Errorf(Conflict, "the ledger does not have this serial number as lost; correct the movement that took it away instead")
	case from.Kind != KindLost:
		return Errorf(Conflict, "this serial number is known as lost, so it is found from lost")
	case was != lot.ID: // what it was before, issue stock that has gone to training since
		return Errorf(Conflict, "the device got lost as lot %d: name that one", was)
	}
	return nil
}

// lostAs tells whether units of a batch ever moved, whether they went to lost
// the last time, and as which lot. For a device that is where it is now.
func lostAs(r Reader, batch int64) (lot int64, moved, lost bool, err error) {
	last, err := r.Movements(MovementFilter{Batch: batch, Newest: true}, Page{Limit: 1})
	if err != nil || len(last) == 0 {
		return 0, false, false, err
	}
	return last[0].IntoLotID, true, last[0].To == string(KindLost), nil
}

// split finds the lot with the clocks that the units have at their new place.
func (p *poster) split(m Movement, it Item, lot Lot, to Place) (Movement, error) {
	if to.Outside() {
		return m, nil
	}
	site, err := p.siteHere(to)
	if err != nil {
		return m, err
	}
	clocks := ClocksAfter(it, lot.Clocks, to, site.Today(m.HappenedAt))
	if clocks == lot.Clocks {
		return m, nil
	}
	into, err := p.w.EnsureLot(lot.Batch.ID, clocks, lot.ID, lot.ReceivedOn)
	m.IntoLotID = into.ID
	return m, err
}

// correction turns a request to correct into the movement that exactly undoes
// the one it names; whatever else the request says must agree.
func (p *poster) correction(m Movement) (Movement, error) {
	if m.Corrects == 0 {
		return m, Invalidf("corrects", "name the movement that is corrected")
	}
	if m.Reason != ReasonCorrection {
		return m, Invalidf("reason", "a movement that corrects another has the reason correction")
	}
	orig, err := p.w.Movement(m.Corrects)
	if err != nil {
		return m, known(err, "corrects", "movement")
	}
	from, err := p.place(orig.From)
	if err != nil {
		return m, err
	}
	to, err := p.place(orig.To)
	if err != nil {
		return m, err
	}
	undo, err := CorrectionOf(orig, from, to)
	if err != nil {
		return m, err
	}
	if m.LotID != undo.LotID || m.Qty != undo.Qty || m.From != undo.From || m.To != undo.To {
		return m, Errorf(Conflict, "a correction exactly undoes movement %d: lot %d, %s from %s to %s", orig.ID, undo.LotID, plural(undo.Qty, "unit"), undo.From, undo.To)
	}
	if m.Cause != "" {
		return m, Invalidf("cause", "leave this out of a correction")
	}
	m.IntoLotID = undo.IntoLotID
	return m, p.judgeCorrection(orig, undo)
}

// Move posts movements together: all of them happen or none does. Stock comes
// from the supplier only by receipts and imports.
func (s *Service) Move(ctx context.Context, by Actor, ms []Movement) ([]Movement, error) {
	return write(ctx, s, func(w Writer) ([]Movement, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return nil, err
		}
		if len(ms) == 0 || len(ms) > 1000 {
			return nil, Invalidf("movements", "give 1 to 1000 movements")
		}
		p := newPoster(w, by, s.Now())
		for i := range ms {
			path := "movements[" + strconv.Itoa(i) + "]"
			if err := p.mayMove(&ms[i]); err != nil {
				return nil, under(err, path)
			}
		}
		return p.post(ms, "movements")
	})
}

// mayMove refuses what cannot be asked for as a bare movement, and places at
// sites that are not the actor's. Codes are brought to their stored form.
func (p *poster) mayMove(m *Movement) error {
	m.From, m.To = placeCode(m.From), placeCode(m.To)
	if m.From == string(KindSupplier) {
		return Errorf(Conflict, "stock comes from the supplier only by receipts and imports")
	}
	if m.To == string(KindFound) && m.Corrects == 0 {
		return Errorf(Conflict, "unidentified units are identified, not moved to found")
	}
	for path, code := range map[string]string{"from": m.From, "to": m.To} {
		pl, err := p.place(code)
		if err != nil {
			return known(err, path, "place")
		}
		if err := p.may(ActKeepStock, pl); err != nil {
			return err
		}
	}
	return nil
}

// placeCode brings a place code that was typed to its stored form: the places
// outside are lower case, all others upper case.
func placeCode(s string) string {
	for _, k := range OutsideKinds {
		if s == string(k) {
			return s
		}
	}
	return NormalCode(s)
}

// Movements lists movements. Crew do not read the history.
func (s *Service) Movements(ctx context.Context, by Actor, f MovementFilter, p Page) ([]Movement, error) {
	return read(ctx, s, func(r Reader) ([]Movement, error) {
		if err := by.must(ActHistory, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrowed(r, f.Sites)
		if err != nil {
			return nil, err
		}
		f.Sites = sites
		if err := by.Whole().placeAsked(r, f.Place); err != nil {
			return nil, err
		}
		return r.Movements(f, p)
	})
}
