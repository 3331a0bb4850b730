package ledger

import (
	"cmp"
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// InspectionReport is an inspection as somebody makes it.
type InspectionReport struct {
	Points     []inventory.PointCheck `json:"points" doc:"Every point of the item; one that failed is enough by itself"`
	HappenedAt inventory.Instant      `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Note       string                 `json:"note,omitempty" maxLength:"2000"`
	ReleaseTo  string                 `json:"release_to,omitempty" doc:"Place that it goes to when it passes"`
}

// Inspect records an inspection of a device. A failed point sends it to the quarantine of its purpose at once and
// opens an observation on the bag that it came from. A device that passes may be released to a place in one step.
// Refuses: Forbidden without check where it is, and without keep_stock where it is released to; NotFound for the lot;
// Invalid by field; Conflict for what is no device or is gone, and for a release that is not allowed. Locks the item.
func (s *Service) Inspect(ctx context.Context, by inventory.Actor, lot int64,
	in InspectionReport) (inventory.Inspection, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Inspection, error) {
		u := NewUnit(w, by, s.now(), TwoSign)
		st, place, err := u.DeviceFor(lot, inventory.ActCheck)
		if err != nil {
			return inventory.Inspection{}, err
		}
		if in.HappenedAt, err = Happened(in.HappenedAt, u.Now, "happened_at"); err != nil {
			return inventory.Inspection{}, err
		}
		done, err := u.Inspect(by, st, place, inventory.InspectedLine{LotID: lot, Points: in.Points}, in.HappenedAt, in.Note,
			"")
		if err != nil || !done.Passed || in.ReleaseTo == "" {
			return done, err
		}
		return done, u.Release(st, place, inventory.NormalCode(in.ReleaseTo))
	})
}

// DeviceFor finds a device by any of its lots for an action, and where it is.
// Others are kept from changing what is recorded of it.
func (u *Unit) DeviceFor(lot int64, act inventory.Action) (inventory.Stock, inventory.Place, error) {
	if err := u.By.Must(act, ""); err != nil {
		return inventory.Stock{}, inventory.Place{}, err
	}
	st, place, err := u.Device(lot)
	if err != nil {
		return st, place, err
	}
	station, err := u.CurrentStation(place)
	if err != nil {
		return st, place, err
	}
	return st, place, u.By.Must(act, station.Code)
}

func (u *Unit) Device(lot int64) (inventory.Stock, inventory.Place, error) {
	l, err := u.W.Lot(lot)
	if err != nil {
		return inventory.Stock{}, inventory.Place{}, err
	}
	if !l.Device() {
		return inventory.Stock{}, inventory.Place{}, inventory.Refuse(inventory.Conflict, "only for devices")
	}
	if err := u.W.LockItem(l.Item); err != nil {
		return inventory.Stock{}, inventory.Place{}, err
	}
	held, err := u.W.Stock(inventory.StockFilter{Batches: []int64{l.Batch.ID}})
	if err != nil {
		return inventory.Stock{}, inventory.Place{}, err
	}
	if len(held) == 0 {
		return inventory.Stock{}, inventory.Place{}, inventory.Refuse(inventory.Conflict,
			"device used, disposed of or lost")
	}
	place, err := u.Place(held[0].Place)
	return held[0], place, err
}

// Inspect keeps an inspection of a device and does what follows from it. who
// made it, which is not always who records it.
func (u *Unit) Inspect(who inventory.Actor, st inventory.Stock, place inventory.Place, in inventory.InspectedLine,
	at inventory.Instant, note, source string) (inventory.Inspection, error) {
	it, err := u.Item(st.Lot.Item)
	if err != nil {
		return inventory.Inspection{}, err
	}
	passed, err := inventory.JudgeInspection(it, in.Points)
	var ps inventory.Problems
	if err != nil {
		ps.Take("", err)
	}
	inventory.CheckText(&ps, "note", note, false, inventory.MaxNote)
	if err := ps.Err(); err != nil {
		return inventory.Inspection{}, err
	}
	done, err := u.W.AddInspection(inventory.Inspection{BatchID: st.Lot.Batch.ID, LotID: st.Lot.ID, Item: it.Code,
		Place: place.Code, HappenedAt: at, RecordedAt: u.Now,
		By: who.Name, Role: who.Role, Points: in.Points, Passed: passed, Source: source, Note: note})
	if err != nil {
		return done, err
	}
	if !passed {
		return done, u.setApart(st, place, it, done)
	}
	return done, u.renewRecord(st.Lot.Batch)
}

// setApart sends a device that failed to quarantine, unless it is there, and tells the bag that it came from.
func (u *Unit) setApart(st inventory.Stock, place inventory.Place, it inventory.Item,
	failed inventory.Inspection) error {
	if place.Kind == inventory.KindQuarantine {
		return nil
	}
	station, err := u.CurrentStation(place)
	if err != nil {
		return err
	}
	why := inventory.FailedText(it, failed.Points)
	_, err = u.Post([]inventory.Movement{{LotID: st.Lot.ID, Qty: 1, From: place.Code,
		To: station.QuarantineCode(place.Purpose), Reason: inventory.ReasonQuarantine,
		HappenedAt: failed.HappenedAt, Note: short(why.String(), inventory.MaxNote)}}, "inspection")
	if err != nil || place.Kind != inventory.KindBag {
		return err
	}
	text := message.M("{1}, serial {2}, {3}", it.Name, st.Lot.Serial, why)
	if s := text.String(); len(s) > inventory.MaxNote {
		text = message.Plain(short(s, inventory.MaxNote))
	}
	_, err = u.W.AddObservation(inventory.Observation{Bag: place.Code, Kind: inventory.SawFailedPoint, Item: it.Code,
		LotID: st.Lot.ID, OpenedAt: failed.HappenedAt, OpenedBy: failed.By,
		Source: cmp.Or(failed.Source, "inspection "+strconv.FormatInt(failed.ID, 10)),
		Text:   text})
	return err
}

// short cuts a text to so many characters.
func short(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}

// Release sends a device that passed to a place.
func (u *Unit) Release(st inventory.Stock, from inventory.Place, code string) error {
	to, err := u.Place(code)
	if err != nil {
		return inventory.AsField(err, "release_to", "not found")
	}
	station, err := u.CurrentStation(to)
	if err != nil {
		return inventory.AsField(err, "release_to", "not found")
	}
	if err := u.By.Must(inventory.ActKeepStock, station.Code); err != nil {
		return err
	}
	_, err = u.Post([]inventory.Movement{{LotID: st.Lot.ID, Qty: 1, From: from.Code, To: to.Code,
		Reason: BackReason(from.Kind, to.Kind)}}, "release")
	return err
}

// BackReason is the reason with which a device goes on after an inspection.
func BackReason(from, to inventory.PlaceKind) inventory.Reason {
	switch {
	case from == inventory.KindQuarantine:
		return inventory.ReasonRelease
	case to == inventory.KindStore && from == inventory.KindStore:
		return inventory.ReasonTransfer
	case to == inventory.KindBag || to == inventory.KindCarrier && from == inventory.KindStore:
		return StowReason(from)
	case to == inventory.KindCarrier && from != inventory.KindAway:
		return inventory.ReasonTransfer
	}
	return inventory.ReasonReturn
}

// StowReason is the reason with which units from a kind of place come into a bag.
func StowReason(from inventory.PlaceKind) inventory.Reason {
	switch from {
	case inventory.KindBag:
		return inventory.ReasonTransfer
	case inventory.KindAway:
		return inventory.ReasonReturn
	}
	return inventory.ReasonStow
}
