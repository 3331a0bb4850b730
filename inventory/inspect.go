package inventory

import (
	"cmp"
	"context"
	"strconv"
)

// InspectionReport is an inspection as somebody makes it.
type InspectionReport struct {
	Points    []PointCheck `json:"points" doc:"Every point of the item; one that failed is enough by itself"`
	At        Instant      `json:"at,omitempty" format:"date-time" doc:"Now if left out"`
	Note      string       `json:"note,omitempty" maxLength:"2000"`
	ReleaseTo string       `json:"release_to,omitempty" doc:"For a quartermaster: the place that the device goes to when it passes; from quarantine a store"`
}

// Inspect records an inspection of a device. A failed point sends it to the
// quarantine of its purpose at once and opens an observation on the bag that it
// came from. A device that passes may be released to a place in one step.
func (s *Service) Inspect(ctx context.Context, by Actor, lot int64, in InspectionReport) (Inspection, error) {
	return write(ctx, s, func(w Writer) (Inspection, error) {
		p := newPoster(w, by, s.Now())
		st, place, err := p.deviceFor(lot, ActCheck)
		if err != nil {
			return Inspection{}, err
		}
		if in.At, err = happened(in.At, p.now, "at"); err != nil {
			return Inspection{}, err
		}
		done, err := p.inspect(by, st, place, InspectedLine{LotID: lot, Points: in.Points}, in.At, in.Note, "")
		if err != nil || !done.Passed || in.ReleaseTo == "" {
			return done, err
		}
		return done, p.release(st, place, NormalCode(in.ReleaseTo))
	})
}

// deviceFor finds a device by any of its lots for an action, and where it is.
// Others are kept from changing what is recorded of it.
func (p *poster) deviceFor(lot int64, act Action) (Stock, Place, error) {
	if err := p.by.must(act, ""); err != nil {
		return Stock{}, Place{}, err
	}
	st, place, err := p.device(lot)
	if err != nil {
		return st, place, err
	}
	site, err := p.siteHere(place)
	if err != nil {
		return st, place, err
	}
	return st, place, p.by.must(act, site.Code)
}

func (p *poster) device(lot int64) (Stock, Place, error) {
	l, err := p.w.Lot(lot)
	if err != nil {
		return Stock{}, Place{}, err
	}
	if !l.Device() {
		return Stock{}, Place{}, Errorf(Conflict, "this lot is no device: only items tracked by serial number are")
	}
	if err := p.w.LockItem(l.Item); err != nil {
		return Stock{}, Place{}, err
	}
	held, err := p.w.Stock(StockFilter{Batch: l.Batch.ID})
	if err != nil {
		return Stock{}, Place{}, err
	}
	if len(held) == 0 {
		return Stock{}, Place{}, Errorf(Conflict, "the device is not in the service: it was used, disposed of or lost")
	}
	place, err := p.place(held[0].Place)
	return held[0], place, err
}

// inspect keeps an inspection of a device and does what follows from it. who
// made it, which is not always who records it.
func (p *poster) inspect(who Actor, st Stock, place Place, in InspectedLine, at Instant, note, source string) (Inspection, error) {
	it, err := p.item(st.Lot.Item)
	if err != nil {
		return Inspection{}, err
	}
	passed, err := JudgeInspection(it, in.Points)
	var ps problems
	if err != nil {
		ps.take("", err)
	}
	checkText(&ps, "note", note, false, MaxNote)
	if err := ps.err(); err != nil {
		return Inspection{}, err
	}
	done, err := p.w.AddInspection(Inspection{BatchID: st.Lot.Batch.ID, LotID: st.Lot.ID, Item: it.Code, Place: place.Code, At: at, RecordedAt: p.now,
		By: who.Name, Role: who.Role, Points: in.Points, Passed: passed, Source: source, Note: note})
	if err != nil {
		return done, err
	}
	if !passed {
		return done, p.setApart(st, place, it, done)
	}
	return done, renewRecord(p.w, st.Lot.Batch)
}

// setApart sends a device that failed to quarantine, unless it is there, and
// tells the bag that it came from.
func (p *poster) setApart(st Stock, place Place, it Item, failed Inspection) error {
	if place.Kind == KindQuarantine {
		return nil
	}
	site, err := p.siteHere(place)
	if err != nil {
		return err
	}
	why := FailedText(it, failed.Points)
	_, err = p.post([]Movement{{LotID: st.Lot.ID, Qty: 1, From: place.Code, To: site.QuarantineCode(place.Purpose), Reason: ReasonQuarantine,
		HappenedAt: failed.At, Note: short(why, MaxNote)}}, "inspection")
	if err != nil || place.Kind != KindBag {
		return err
	}
	_, err = p.w.AddObservation(Observation{Bag: place.Code, Kind: SawFailedPoint, Item: it.Code, LotID: st.Lot.ID, OpenedAt: failed.At, OpenedBy: failed.By,
		Source: cmp.Or(failed.Source, "inspection "+strconv.FormatInt(failed.ID, 10)), Text: short(it.Name+", serial "+st.Lot.Serial+", "+why, MaxNote)})
	return err
}

// short cuts a text to so many characters.
func short(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}

// release sends a device that passed to a place.
func (p *poster) release(st Stock, from Place, code string) error {
	to, err := p.place(code)
	if err != nil {
		return known(err, "release_to", "place")
	}
	site, err := p.siteHere(to)
	if err != nil {
		return known(err, "release_to", "place")
	}
	if err := p.by.must(ActKeepStock, site.Code); err != nil {
		return err
	}
	_, err = p.post([]Movement{{LotID: st.Lot.ID, Qty: 1, From: from.Code, To: to.Code, Reason: backReason(from.Kind, to.Kind)}}, "release")
	return err
}

// backReason is the reason with which a device goes on after an inspection.
func backReason(from, to PlaceKind) Reason {
	switch {
	case from == KindQuarantine:
		return ReasonRelease
	case to == KindStore && from == KindStore:
		return ReasonTransfer
	case to == KindBag || to == KindCarrier && from == KindStore:
		return stowReason(from)
	case to == KindCarrier && from != KindAway:
		return ReasonTransfer
	}
	return ReasonReturn
}
