package ledger

import (
	"context"
	"errors"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/scope"
)

// Unit prepares movements inside one unit of work and posts them together.
type Unit struct {
	W        inventory.Writer
	By       inventory.Actor
	Now      inventory.Instant
	places   map[string]inventory.Place
	items    map[string]inventory.Item
	stations map[string]inventory.Station
	bags     map[string]inventory.Bag // that something is to be put into
	Lots     map[int64]lotFacts
	known    map[string]*inventory.ReceiptFacts // of items that are locked
	fresh    inventory.Lot                      // looked up last for a receipt
	Alone    bool                               // a crew's use, which one person may record: see sign
	Trial    bool                               // what is posted will be undone: nobody signs for it
	Wanted   bool                               // signatures would have been wanted for a trial
}

// lotFacts are what never changes of a lot.
type lotFacts struct {
	Item   string
	device int64 // its batch, 0 for a lot that is no device
}

func NewUnit(w inventory.Writer, by inventory.Actor, now inventory.Instant) *Unit {
	return &Unit{W: w, By: by, Now: now, places: map[string]inventory.Place{}, items: map[string]inventory.Item{},
		stations: map[string]inventory.Station{}, bags: map[string]inventory.Bag{}, Lots: map[int64]lotFacts{},
		known: map[string]*inventory.ReceiptFacts{}}
}

// Cached looks a value up once per unit of work.
func Cached[K comparable, T any](m map[K]T, key K, get func(K) (T, error)) (T, error) {
	if v, ok := m[key]; ok {
		return v, nil
	}
	v, err := get(key)
	if err == nil {
		m[key] = v
	}
	return v, err
}

func (p *Unit) Place(code string) (inventory.Place, error) { return Cached(p.places, code, p.W.Place) }
func (p *Unit) Item(code string) (inventory.Item, error)   { return Cached(p.items, code, p.W.Item) }
func (p *Unit) Station(code string) (inventory.Station, error) {
	return Cached(p.stations, code, p.W.Station)
}

// lot returns a lot, without asking twice for one that just came in.
func (p *Unit) lot(id int64) (inventory.Lot, error) {
	if p.fresh.ID == id && id != 0 {
		return p.fresh, nil
	}
	return p.W.Lot(id)
}

// May refuses an action at a place that is at a station not the actor's.
func (p *Unit) May(act inventory.Action, pl inventory.Place) error {
	if pl.Outside() {
		return p.By.Must(act, "")
	}
	station, err := p.CurrentStation(pl)
	if err != nil {
		return err
	}
	return p.By.Must(act, station.Code)
}

// Happened brings the time at which something happened into range: left out it
// is now; a little ahead is a phone's clock; further ahead is refused. It stands
// beside the time of recording, so that a register has the date on which it
// really happened (21 CFR 1304.21(d)).
func Happened(at, now inventory.Instant, path string) (inventory.Instant, error) {
	switch {
	case at == 0:
		return now, nil
	case at < inventory.Earliest:
		return 0, inventory.Invalidf(path, "give a time after 1900-01-01")
	case at > now.Add(inventory.ClockSkew):
		return 0, inventory.Invalidf(path, "give a time that has passed")
	}
	return min(at, now), nil
}

// Post judges movements by every rule and appends them. All or none: on an
// error the unit of work must be given up. Paths of wrong fields begin with
// path and the index of the movement. Where a device moves more than once, each
// time is judged by where it is then.
func (p *Unit) Post(ms []inventory.Movement, path string) ([]inventory.Movement, error) {
	var done, ready []inventory.Movement
	moving := map[int64]bool{}
	flush := func() error {
		posted, err := p.Append(ready)
		done, ready = append(done, posted...), nil
		clear(moving)
		return err
	}
	for i, m := range ms {
		facts, err := Cached(p.Lots, m.LotID, p.FactsOf)
		if err != nil {
			return nil, PrefixPaths(inventory.AsField(err, "lot_id", "lot"), path+"["+strconv.Itoa(i)+"]")
		}
		if moving[facts.device] {
			if err := flush(); err != nil {
				return nil, err
			}
		}
		moving[facts.device] = facts.device != 0 // what is no device never waits
		next, err := p.Prepare(m)
		if err != nil {
			return nil, PrefixPaths(err, path+"["+strconv.Itoa(i)+"]")
		}
		ready = append(ready, next)
	}
	if err := flush(); err != nil {
		return nil, err
	}
	return done, nil
}

func (p *Unit) FactsOf(lot int64) (lotFacts, error) {
	l, err := p.lot(lot)
	facts := lotFacts{Item: l.Item}
	if l.Device() {
		facts.device = l.Batch.ID
	}
	return facts, err
}

// Judge finds out whether movements may happen, stock apart, and moves nothing.
func (p *Unit) Judge(ms []inventory.Movement, path string) ([]inventory.Movement, error) {
	out := make([]inventory.Movement, 0, len(ms))
	for i, m := range ms {
		ready, err := p.Prepare(m)
		if err != nil {
			return nil, PrefixPaths(err, path+"["+strconv.Itoa(i)+"]")
		}
		out = append(out, ready)
	}
	return out, nil
}

// PrefixPaths puts the fields of an Invalid error under a path.
func PrefixPaths(err error, path string) error {
	if inventory.KindOf(err) != inventory.Invalid || errors.Is(err, account.ErrUnsigned) {
		return err
	}
	var ps inventory.Problems
	ps.Take(path, err)
	return ps.Err()
}

// Prepare judges one movement and fills in what follows from it.
func (p *Unit) Prepare(m inventory.Movement) (inventory.Movement, error) {
	if m.Qty < 1 || m.Qty > inventory.MaxQty {
		return m, inventory.Invalidf("qty", "give 1 to %d units", inventory.MaxQty)
	}
	var err error
	if m.HappenedAt, err = Happened(m.HappenedAt, p.Now, "happened_at"); err != nil {
		return m, err
	}
	if err := checkMovementTexts(m); err != nil {
		return m, err
	}
	if m.Reason == inventory.ReasonCorrection || m.Corrects != 0 {
		if m, err = p.correction(m); err != nil {
			return m, err
		}
	}
	from, err := p.Place(m.From)
	if err != nil {
		return m, inventory.AsField(err, "from", "place")
	}
	to, err := p.Place(m.To)
	if err != nil {
		return m, inventory.AsField(err, "to", "place")
	}
	if m.Reason != inventory.ReasonCorrection {
		if m, err = p.forward(m, from, to); err != nil {
			return m, err
		}
	}
	if to.Kind == inventory.KindBag {
		if err := p.inService(to.Code); err != nil {
			return m, err
		}
	}
	m.Station, m.RecordedAt = inventory.ChainStation(from, to), p.Now
	return p.sign(m)
}

func checkMovementTexts(m inventory.Movement) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "reference", m.Reference, false, inventory.MaxName)
	inventory.CheckText(&ps, "note", m.Note, false, inventory.MaxNote)
	return ps.Err()
}

// forward judges a movement that is no correction and finds the lot that the
// units belong to after it.
func (p *Unit) forward(m inventory.Movement, from, to inventory.Place) (inventory.Movement, error) {
	if err := inventory.Allowed(from, to, m.Reason, m.Cause); err != nil {
		return m, err
	}
	lot, err := p.lot(m.LotID)
	if err != nil {
		return m, inventory.AsField(err, "lot_id", "lot")
	}
	it, err := p.Item(lot.Item)
	if err != nil {
		return m, err
	}
	if err := inventory.AllowedLot(it, lot, to, m.Reason); err != nil {
		return m, err
	}
	if to.Kind == inventory.KindFound && !lot.Unidentified {
		return m, inventory.Errorf(inventory.Conflict, "only unidentified units are found to be something else")
	}
	if lot.Device() && m.Qty != 1 {
		return m, inventory.Invalidf("qty", "a device moves one at a time")
	}
	if m.Reason == inventory.ReasonFound {
		if err := p.findable(lot, from); err != nil {
			return m, err
		}
	}
	m.IntoLotID = lot.ID
	if from.Code == to.Code {
		return m, inventory.Errorf(inventory.Conflict, "the units are there already")
	}
	if err := p.judgeReturn(m, it, lot, from, to); err != nil {
		return m, err
	}
	return p.split(m, it, lot, to)
}

// findable refuses what cannot have been found: units of a batch come from
// found; a device comes from lost where the ledger has it there, and from found
// only where the ledger never had it.
func (p *Unit) findable(lot inventory.Lot, from inventory.Place) error {
	if !lot.Device() {
		if from.Kind == inventory.KindLost {
			return inventory.Errorf(inventory.Conflict,
				"only a serial number is found from lost; units of a batch come from found")
		}
		return nil
	}
	was, moved, lost, err := LostAs(p.W, lot.Batch.ID)
	switch {
	case err != nil:
		return err
	case !moved && from.Kind == inventory.KindFound:
		return nil
	case !lost:
		return inventory.Errorf(inventory.Conflict,
			"the ledger does not have this serial number as lost; correct the movement that took it away instead")
	case from.Kind != inventory.KindLost:
		return inventory.Errorf(inventory.Conflict, "this serial number is known as lost, so it is found from lost")
	case was != lot.ID: // what it was before, issue stock that has gone to training since
		return inventory.Errorf(inventory.Conflict, "the device got lost as lot %d: name that one", was)
	}
	return nil
}

// LostAs tells whether units of a batch ever moved, whether they went to lost
// the last time, and as which lot. For a device that is where it is now.
func LostAs(r inventory.Reader, batch int64) (lot int64, moved, lost bool, err error) {
	last, err := r.Movements(inventory.MovementFilter{Batch: batch, Newest: true}, inventory.Page{Limit: 1})
	if err != nil || len(last) == 0 {
		return 0, false, false, err
	}
	return last[0].IntoLotID, true, last[0].To == string(inventory.KindLost), nil
}

// split finds the lot with the clocks that the units have at their new place.
func (p *Unit) split(m inventory.Movement, it inventory.Item, lot inventory.Lot,
	to inventory.Place) (inventory.Movement, error) {
	if to.Outside() {
		return m, nil
	}
	station, err := p.CurrentStation(to)
	if err != nil {
		return m, err
	}
	clocks := inventory.ClocksAfter(it, lot.Clocks, to, station.Today(m.HappenedAt))
	if clocks == lot.Clocks {
		return m, nil
	}
	into, err := p.W.EnsureLot(lot.Batch.ID, clocks, lot.ID, lot.ReceivedOn)
	m.IntoLotID = into.ID
	return m, err
}

// correction turns a request to correct into the movement that exactly undoes
// the one it names; whatever else the request says must agree.
func (p *Unit) correction(m inventory.Movement) (inventory.Movement, error) {
	if m.Corrects == 0 {
		return m, inventory.Invalidf("corrects", "name the movement that is corrected")
	}
	if m.Reason != inventory.ReasonCorrection {
		return m, inventory.Invalidf("reason", "a movement that corrects another has the reason correction")
	}
	orig, err := p.W.Movement(m.Corrects)
	if err != nil {
		return m, inventory.AsField(err, "corrects", "movement")
	}
	from, err := p.Place(orig.From)
	if err != nil {
		return m, err
	}
	to, err := p.Place(orig.To)
	if err != nil {
		return m, err
	}
	undo, err := inventory.CorrectionOf(orig, from, to)
	if err != nil {
		return m, err
	}
	if m.LotID != undo.LotID || m.Qty != undo.Qty || m.From != undo.From || m.To != undo.To {
		return m, inventory.Errorf(inventory.Conflict, "a correction exactly undoes movement %d: lot %d, %s from %s to %s",
			orig.ID, undo.LotID, inventory.Plural(undo.Qty, "unit"), undo.From, undo.To)
	}
	if m.Cause != "" {
		return m, inventory.Invalidf("cause", "leave this out of a correction")
	}
	m.IntoLotID = undo.IntoLotID
	return m, p.judgeCorrection(orig, undo)
}

// Move posts movements together, and returns them as stored, in the order given: all of them happen or none does.
// Stock comes from the supplier only by receipts and imports. Refuses: Forbidden without keep_stock at either end;
// Invalid by field, under movements[i], and where a controlled item lacks signatures; Conflict for what a rule or
// the stock forbids. Locks the bags that units go into and the stations' chains.
func (s *Service) Move(ctx context.Context, by inventory.Actor, ms []inventory.Movement) ([]inventory.Movement, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) ([]inventory.Movement, error) {
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return nil, err
		}
		if len(ms) == 0 || len(ms) > 1000 {
			return nil, inventory.Invalidf("movements", "give 1 to 1000 movements")
		}
		p := NewUnit(w, by, s.now())
		for i := range ms {
			path := "movements[" + strconv.Itoa(i) + "]"
			if err := p.mayMove(&ms[i]); err != nil {
				return nil, PrefixPaths(err, path)
			}
		}
		return p.Post(ms, "movements")
	})
}

// mayMove refuses what cannot be asked for as a bare movement, and places at
// stations that are not the actor's. Codes are brought to their stored form.
func (p *Unit) mayMove(m *inventory.Movement) error {
	m.From, m.To = PlaceCode(m.From), PlaceCode(m.To)
	if m.From == string(inventory.KindSupplier) {
		return inventory.Errorf(inventory.Conflict, "stock comes from the supplier only by receipts and imports")
	}
	if m.To == string(inventory.KindFound) && m.Corrects == 0 {
		return inventory.Errorf(inventory.Conflict, "unidentified units are identified, not moved to found")
	}
	for path, code := range map[string]string{"from": m.From, "to": m.To} {
		pl, err := p.Place(code)
		if err != nil {
			return inventory.AsField(err, path, "place")
		}
		if err := p.May(inventory.ActKeepStock, pl); err != nil {
			return err
		}
	}
	return nil
}

// PlaceCode brings a place code that was typed to its stored form: the places
// outside are lower case, all others upper case.
func PlaceCode(s string) string {
	for _, k := range inventory.OutsideKinds {
		if s == string(k) {
			return s
		}
	}
	return inventory.NormalCode(s)
}

// Movements lists movements by id, or the newest first where f asks for it. Crew do not read them. Refuses:
// Forbidden without history, and for a station or place that is not the actor's; NotFound for either.
func (s *Service) Movements(ctx context.Context, by inventory.Actor, f inventory.MovementFilter,
	p inventory.Page) ([]inventory.Movement, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Movement, error) {
		if err := by.Must(inventory.ActHistory, ""); err != nil {
			return nil, err
		}
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations = stations
		if err := scope.PlaceAsked(by.WithoutScope(), r, f.Place); err != nil {
			return nil, err
		}
		return r.Movements(f, p)
	})
}
