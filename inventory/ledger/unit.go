package ledger

import (
	"cmp"
	"errors"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// Unit judges movements inside one unit of work and appends them together.
type Unit struct {
	W      inventory.Writer
	By     inventory.Actor
	Now    inventory.Instant
	policy Policy
	known
	Decided  bool // a person decided the report that is posted: its time follows the records
	unsigned bool // in a dry run: signatures would have been wanted
	received bool // it makes a receipt again, of units that were let in then
	later    *later

	OfCrew    bool                  // it books what a crew recorded, which settles no other report
	Accepting inventory.UnderReview // the report that it is of, where it came to review
}

func NewUnit(w inventory.Writer, by inventory.Actor, now inventory.Instant, policy Policy) *Unit {
	return &Unit{W: w, By: by, Now: now, policy: policy, known: newKnown()}
}

// May refuses an action at a place that is at a station not the actor's.
func (u *Unit) May(act inventory.Action, pl inventory.Place) error {
	if pl.Outside() {
		return u.By.Must(act, "")
	}
	station, err := u.CurrentStation(pl)
	if err != nil {
		return err
	}
	return u.By.Must(act, station.Code)
}

// Happened brings the time at which something happened into range: left out it is now; a little ahead is a phone's
// clock; further ahead is refused. It stands beside the time of recording, so that a register has the date on which
// it really happened (21 CFR 1304.21(d)).
func Happened(at, now inventory.Instant, path string) (inventory.Instant, error) {
	switch {
	case at == 0:
		return now, nil
	case at < inventory.Earliest:
		return 0, inventory.InvalidField(path, "enter a time after 1900")
	case at > now.Add(inventory.ClockSkew):
		return 0, inventory.InvalidField(path, "enter a past time")
	}
	return min(at, now), nil
}

// Post judges movements by every rule and appends them. All or none: on an error the unit of work must be given up.
// Paths of wrong fields begin with path and the index of the movement. Where a device moves more than once, each time
// is judged by where it is then.
func (u *Unit) Post(ms []inventory.Movement, path string) ([]inventory.Movement, error) {
	if err := u.know(ms); err != nil {
		return nil, err
	}
	known, err := u.flowsFor(ms)
	if err != nil {
		return nil, err
	}
	var done, ready []inventory.Movement
	moving := map[int64]bool{}
	flush := func() error {
		posted, err := u.Append(ready)
		done, ready = append(done, posted...), nil
		clear(moving)
		return err
	}
	for i, m := range ms {
		lot, err := u.Lot(m.LotID)
		if err != nil {
			return nil, PrefixPaths(inventory.AsField(err, "lot_id", "not found"), path+"["+strconv.Itoa(i)+"]")
		}
		if moving[lot.Batch.ID] {
			if err := flush(); err != nil {
				return nil, err
			}
		}
		moving[lot.Batch.ID] = lot.Device() // what is no device never waits
		next, err := u.prepareAfter(known, m)
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

// Judge finds out whether movements may happen, stock apart, and moves nothing.
func (u *Unit) Judge(ms []inventory.Movement, path string) ([]inventory.Movement, error) {
	if err := u.know(ms); err != nil {
		return nil, err
	}
	known, err := u.flowsFor(ms)
	if err != nil {
		return nil, err
	}
	out := make([]inventory.Movement, 0, len(ms))
	for i, m := range ms {
		ready, err := u.prepareAfter(known, m)
		if err != nil {
			return nil, PrefixPaths(err, path+"["+strconv.Itoa(i)+"]")
		}
		out = append(out, ready)
	}
	return out, nil
}

// prepareAfter judges a movement that is dated back by what moved since, besides.
func (u *Unit) prepareAfter(known flows, m inventory.Movement) (inventory.Movement, error) {
	m, late := known.fit(m, u.Decided || u.received)
	m, err := u.Prepare(m)
	known.add(m, "")
	return m, cmp.Or(err, late)
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
func (u *Unit) Prepare(m inventory.Movement) (inventory.Movement, error) {
	if m.Qty < 1 || m.Qty > inventory.MaxQty {
		return m, inventory.InvalidField("qty", "enter {1} to {2}", 1, inventory.MaxQty)
	}
	var err error
	if m.HappenedAt, err = Happened(m.HappenedAt, u.Now, "happened_at"); err != nil {
		return m, err
	}
	if err := checkMovementTexts(m); err != nil {
		return m, err
	}
	if m.Reason != inventory.ReasonCorrection {
		if err := u.inOldUnit(m, inventory.Movement{}); err != nil {
			return m, err
		}
	}
	if m.Reason == inventory.ReasonCorrection || m.Corrects != 0 {
		if m, err = u.correction(m); err != nil {
			return m, err
		}
	}
	from, err := u.Place(m.From)
	if err != nil {
		return m, inventory.AsField(err, "from", "not found")
	}
	to, err := u.Place(m.To)
	if err != nil {
		return m, inventory.AsField(err, "to", "not found")
	}
	if m.Reason != inventory.ReasonCorrection {
		if m, err = u.forward(m, from, to); err != nil {
			return m, err
		}
	}
	if !to.Outside() {
		station, err := u.CurrentStation(to)
		if err := cmp.Or(err, station.MustBeOpen()); err != nil {
			return m, err
		}
	}
	if to.Kind == inventory.KindBag {
		if err := u.inService(to.Code); err != nil {
			return m, err
		}
	}
	m.Station, m.RecordedAt = inventory.ChainStation(from, to), u.Now
	return u.sign(m)
}

func checkMovementTexts(m inventory.Movement) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "reference", m.Reference, m.Reason.NeedsReference(), inventory.MaxName)
	inventory.CheckText(&ps, "note", m.Note, false, inventory.MaxNote)
	return ps.Err()
}

// forward judges a movement that is no correction and finds the lot that the units belong to after it.
func (u *Unit) forward(m inventory.Movement, from, to inventory.Place) (inventory.Movement, error) {
	if err := inventory.Allowed(from, to, m.Reason, m.Cause); err != nil {
		return m, err
	}
	lot, err := u.Lot(m.LotID)
	if err != nil {
		return m, inventory.AsField(err, "lot_id", "not found")
	}
	it, err := u.Item(lot.Item)
	if err != nil {
		return m, err
	}
	if err := inventory.AllowedLot(it, lot, to, m.Reason); err != nil && !u.received {
		return m, err
	}
	if to.Kind == inventory.KindFound && !lot.Unidentified {
		return m, inventory.Refuse(inventory.Conflict, "only unidentified units can be identified")
	}
	if lot.Device() && m.Qty != 1 {
		return m, inventory.InvalidField("qty", "one device at a time")
	}
	if m.Reason == inventory.ReasonFound {
		if err := u.findable(lot, from); err != nil {
			return m, err
		}
	}
	m.IntoLotID = lot.ID
	if from.Code == to.Code {
		return m, inventory.Refuse(inventory.Conflict, "already there")
	}
	if err := u.judgeReturn(m, it, lot, from, to); err != nil {
		return m, err
	}
	return u.split(m, it, lot, to)
}

// findable refuses what cannot have been found: units of a batch come from found; a device comes from lost where the
// ledger has it there, and from found only where the ledger never had it.
func (u *Unit) findable(lot inventory.Lot, from inventory.Place) error {
	if !lot.Device() {
		if from.Kind == inventory.KindLost {
			return inventory.Refuse(inventory.Conflict, "only a device can be found from lost")
		}
		return nil
	}
	was, moved, lost, err := LostAs(u.W, lot.Batch.ID)
	switch {
	case err != nil:
		return err
	case !moved && from.Kind == inventory.KindFound:
		return nil
	case !lost:
		return inventory.Refuse(inventory.Conflict, "not recorded as lost: correct the record that removed it")
	case from.Kind != inventory.KindLost:
		return inventory.Refuse(inventory.Conflict, "serial number recorded as lost: find it from lost")
	case was != lot.ID: // what it was before, issue stock that has gone to training since
		return inventory.Refuse(inventory.Conflict, "choose the lost device: {1}", was)
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
func (u *Unit) split(m inventory.Movement, it inventory.Item, lot inventory.Lot,
	to inventory.Place) (inventory.Movement, error) {
	if to.Outside() {
		return m, nil
	}
	station, err := u.CurrentStation(to)
	if err != nil {
		return m, err
	}
	left, err := u.lastDayOut(m, lot, station)
	if err != nil {
		return m, err
	}
	clocks := inventory.ClocksAfter(it, lot.Clocks, to, station.Today(m.HappenedAt), left)
	if clocks == lot.Clocks {
		return m, nil
	}
	into, err := u.ensureLot(inventory.Lot{Batch: lot.Batch, Clocks: clocks, Parent: lot.ID,
		ReceivedOn: lot.ReceivedOn})
	m.IntoLotID = into.ID
	return m, err
}

// lastDayOut is the last day of a ride that a movement ends, by the calendar of the carrier's station, or of that where
// the units turn up again: back at midnight, the new day is not spent.
func (u *Unit) lastDayOut(m inventory.Movement, lot inventory.Lot, at inventory.Station) (inventory.Day, error) {
	from, err := u.Place(m.From)
	if err == nil && lot.ExposedSince != 0 && !from.Outside() {
		at, err = u.CurrentStation(from)
	}
	return at.Today(m.HappenedAt - 1), err
}

// correction turns a request to correct into the movement that exactly undoes
// the one it names; whatever else the request says must agree.
func (u *Unit) correction(m inventory.Movement) (inventory.Movement, error) {
	if m.Corrects == 0 {
		return m, inventory.InvalidField("corrects", "choose the record to correct")
	}
	if m.Reason != inventory.ReasonCorrection {
		return m, inventory.InvalidField("reason", "only a correction reverses a record")
	}
	orig, err := u.W.Movement(m.Corrects)
	if err != nil {
		return m, inventory.AsField(err, "corrects", "not found")
	}
	from, err := u.Place(orig.From)
	if err != nil {
		return m, err
	}
	to, err := u.Place(orig.To)
	if err != nil {
		return m, err
	}
	undo, err := inventory.CorrectionOf(orig, from, to)
	if err != nil {
		return m, err
	}
	if err := u.W.LockStations(slices.DeleteFunc([]string{from.Station, to.Station},
		func(s string) bool { return s == "" })); err != nil { // nobody converts its unit meanwhile
		return m, err
	}
	if err := u.inOldUnit(m, orig); err != nil {
		return m, err
	}
	if m.LotID != undo.LotID || m.Qty != undo.Qty || m.From != undo.From || m.To != undo.To {
		return m, inventory.Refuse(inventory.Conflict, "must reverse record {1} exactly: units {2}, {3} from {4} to {5}",
			orig.ID, undo.LotID, undo.Qty, undo.From, undo.To)
	}
	if m.Cause != "" {
		return m, inventory.InvalidField("cause", "leave this empty")
	}
	m.IntoLotID = undo.IntoLotID
	if err := u.reasonToUndo(m); err != nil {
		return m, err
	}
	return m, u.judgeCorrection(orig, undo)
}

// reasonToUndo wants a reason where a used device would come back, and of a controlled item.
func (u *Unit) reasonToUndo(m inventory.Movement) error {
	lot, err := u.Lot(m.LotID)
	if err != nil {
		return err
	}
	it, err := u.Item(lot.Item)
	if err != nil || !it.Controlled && !inventory.BackFromUse(it, lot, m) {
		return err
	}
	var ps inventory.Problems
	inventory.CheckText(&ps, "note", m.Note, true, inventory.MaxNote)
	return ps.Err()
}
