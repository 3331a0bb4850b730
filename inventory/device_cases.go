package inventory

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
)

// InspectionReport is an inspection as somebody makes it.
type InspectionReport struct {
	Points    []PointCheck `json:"points" doc:"Every point of the item, passed or failed"`
	At        Instant      `json:"at,omitempty" format:"date-time" doc:"Now if left out"`
	Note      string       `json:"note,omitempty" maxLength:"2000"`
	ReleaseTo string       `json:"release_to,omitempty" doc:"For a quartermaster: the store, bag or carrier that a device goes to when it passes"`
}

// Inspect records an inspection of a device. A failed point sends it to the
// quarantine of its purpose at once and opens an observation on the bag that it
// came from. A device that passes may be released to a place in one step.
func (s *Service) Inspect(ctx context.Context, by Actor, lot int64, in InspectionReport) (Inspection, error) {
	return write(ctx, s, func(w Writer) (Inspection, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return Inspection{}, err
		}
		p := newPoster(w, by, s.Now())
		st, place, err := p.device(lot)
		if err != nil {
			return Inspection{}, err
		}
		if err := p.may(ActCheck, place); err != nil {
			return Inspection{}, err
		}
		if in.At, err = happened(in.At, p.now, "at"); err != nil {
			return Inspection{}, err
		}
		done, err := p.inspect(st, place, InspectedLine{LotID: lot, Points: in.Points}, in.At, in.Note, "")
		if err != nil || !done.Passed || in.ReleaseTo == "" {
			return done, err
		}
		return done, p.release(st, place, NormalCode(in.ReleaseTo))
	})
}

// device returns where a device is, by any of its lots.
func (p *poster) device(lot int64) (Stock, Place, error) {
	l, err := p.w.Lot(lot)
	if err != nil {
		return Stock{}, Place{}, err
	}
	if !l.Device() {
		return Stock{}, Place{}, Errorf(Conflict, "this lot is no device: only items tracked by serial number are")
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

// inspect keeps an inspection of a device and does what follows from it.
func (p *poster) inspect(st Stock, place Place, in InspectedLine, at Instant, note, source string) (Inspection, error) {
	it, err := p.item(st.Lot.Item)
	if err != nil {
		return Inspection{}, err
	}
	passed, err := JudgeInspection(it, in.Points)
	if err != nil {
		return Inspection{}, err
	}
	var ps problems
	checkText(&ps, "note", note, false, MaxNote)
	if err := ps.err(); err != nil {
		return Inspection{}, err
	}
	done, err := p.w.AddInspection(Inspection{BatchID: st.Lot.Batch.ID, LotID: st.Lot.ID, Item: it.Code, Place: place.Code, At: at, RecordedAt: p.now,
		By: p.by.Name, Role: p.by.Role, Points: in.Points, Passed: passed, Source: source, Note: note})
	if err != nil {
		return done, err
	}
	if !passed {
		return done, p.setApart(st, place, it, done)
	}
	site, err := p.siteAt(place)
	if err != nil {
		return done, err
	}
	record := st.Lot.BatchRecord
	record.InspectedOn = max(record.InspectedOn, site.Today(at))
	return done, p.w.SetBatchRecord(st.Lot.Batch.ID, record)
}

// setApart sends a device that failed to quarantine, unless it is there, and
// tells the bag that it came from.
func (p *poster) setApart(st Stock, place Place, it Item, failed Inspection) error {
	if place.Kind == KindQuarantine {
		return nil
	}
	site, err := p.siteAt(place)
	if err != nil {
		return err
	}
	why := "failed: " + strings.Join(FailedPoints(it, failed.Points), "; ")
	_, err = p.post([]Movement{{LotID: st.Lot.ID, Qty: 1, From: place.Code, To: site.QuarantineCode(place.Purpose), Reason: ReasonQuarantine,
		HappenedAt: failed.At, Note: short(why, MaxNote)}}, "inspection")
	if err != nil || place.Kind != KindBag {
		return err
	}
	_, err = p.w.AddObservation(Observation{Bag: place.Code, Kind: SawFailedPoint, Item: it.Code, LotID: st.Lot.ID, OpenedAt: failed.At, OpenedBy: p.by.Name,
		Source: cmp.Or(failed.Source, "inspection "+strconv.FormatInt(failed.ID, 10)), Text: it.Name + ", serial " + st.Lot.Serial + ", " + why})
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
	if err := p.may(ActKeepStock, to); err != nil {
		return err
	}
	reason := ReasonReturn
	switch {
	case from.Kind == KindQuarantine:
		reason = ReasonRelease
	case to.Kind == KindBag:
		reason = stowReason(from.Kind)
	}
	_, err = p.post([]Movement{{LotID: st.Lot.ID, Qty: 1, From: from.Code, To: to.Code, Reason: reason}}, "release")
	return err
}

// judgeReturn refuses a device that returns without the inspection it needs,
// and one that is stowed although its inspection is overdue.
func (p *poster) judgeReturn(m Movement, it Item, lot Lot, from, to Place) error {
	if needsPassing(it, lot, from, to) {
		done, err := p.w.Inspections(lot.Batch.ID)
		if err != nil {
			return err
		}
		last, err := p.w.Movements(MovementFilter{Batch: lot.Batch.ID, Newest: true}, Page{Limit: 1})
		if err != nil || len(last) == 0 {
			return err
		}
		var newest Inspection
		if len(done) > 0 {
			newest = done[0]
		}
		return mayReturn(from, newest, last[0].HappenedAt)
	}
	if to.Kind != KindBag || m.Reason == ReasonFound {
		return nil
	}
	site, err := p.siteAt(to)
	if err == nil && inspectionOverdue(it, lot, site.Today(m.HappenedAt)) {
		return Errorf(Conflict, "the device's inspection is due: inspect it before it goes into a bag")
	}
	return err
}

// Train records a class's applications of a training device.
func (s *Service) Train(ctx context.Context, by Actor, lot int64, in TrainingUse) (TrainingUse, error) {
	return write(ctx, s, func(w Writer) (TrainingUse, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return in, err
		}
		p := newPoster(w, by, s.Now())
		st, place, err := p.device(lot)
		if err != nil {
			return in, err
		}
		if err := p.may(ActKeepStock, place); err != nil {
			return in, err
		}
		if place.Purpose != ForTraining {
			return in, Errorf(Conflict, "only training devices are trained with; issue stock goes to training first, and there is no way back")
		}
		var ps problems
		ps.when(in.Cycles < 1 || in.Cycles > 100000, "cycles", "give 1 to 100000 applications")
		checkText(&ps, "class", in.Class, false, MaxName)
		if err := ps.err(); err != nil {
			return in, err
		}
		if in.At, err = happened(in.At, p.now, "at"); err != nil {
			return in, err
		}
		in.BatchID, in.LotID, in.RecordedAt, in.By = st.Lot.Batch.ID, st.Lot.ID, p.now, by.Name
		if in, err = w.AddTrainingUse(in); err != nil {
			return in, err
		}
		record := st.Lot.BatchRecord
		record.Cycles += in.Cycles
		return in, w.SetBatchRecord(in.BatchID, record)
	})
}

// OpenUnits starts the opened clock for some units of a lot where they lie: they
// become a lot of their own.
func (s *Service) OpenUnits(ctx context.Context, by Actor, lot int64, place string, qty int, at Instant) (Lot, error) {
	return write(ctx, s, func(w Writer) (Lot, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return Lot{}, err
		}
		p := newPoster(w, by, s.Now())
		pl, err := p.place(placeCode(place))
		if err != nil {
			return Lot{}, known(err, "place", "place")
		}
		if err := p.may(ActCheck, pl); err != nil {
			return Lot{}, err
		}
		m, err := p.opening(lot, pl, qty, at)
		if err != nil {
			return Lot{}, err
		}
		if _, err := w.AppendMovements([]Movement{m}); err != nil {
			return Lot{}, err
		}
		return w.Lot(m.IntoLotID)
	})
}

// opening prepares the movement, in place, of units into their opened lot.
func (p *poster) opening(lot int64, pl Place, qty int, at Instant) (Movement, error) {
	l, err := p.w.Lot(lot)
	if err != nil {
		return Movement{}, err
	}
	it, err := p.item(l.Item)
	if err != nil {
		return Movement{}, err
	}
	if at, err = happened(at, p.now, "opened_at"); err != nil {
		return Movement{}, err
	}
	switch {
	case pl.Outside():
		return Movement{}, Invalidf("place", "name a place of the service")
	case qty < 1 || qty > MaxQty:
		return Movement{}, Invalidf("qty", "give 1 to %d units", MaxQty)
	case it.Life.OpenedDays == 0:
		return Movement{}, Errorf(Conflict, "the item has no limit after opening, so nothing starts")
	case l.OpenedOn != 0:
		return Movement{}, Errorf(Conflict, "these units are opened already")
	}
	site, err := p.siteAt(pl)
	if err != nil {
		return Movement{}, err
	}
	clocks := l.Clocks
	clocks.OpenedOn = site.Today(at)
	into, err := p.w.EnsureLot(l.Batch.ID, clocks, l.ID, l.ReceivedOn)
	return Movement{Site: pl.Site, LotID: l.ID, IntoLotID: into.ID, Qty: qty, From: pl.Code, To: pl.Code, Reason: ReasonTransfer,
		HappenedAt: at, RecordedAt: p.now, By: p.by.Name, Note: "opened"}, err
}

// Devices lists the devices in the service with where they are and what is due.
func (s *Service) Devices(ctx context.Context, by Actor, f LotFilter, p Page) ([]DeviceSummary, error) {
	return read(ctx, s, func(r Reader) ([]DeviceSummary, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrow(f.Sites)
		if err != nil {
			return nil, err
		}
		f.Sites, f.Devices, f.Held = sites, true, true
		lots, err := r.Lots(f, p)
		if err != nil {
			return nil, err
		}
		all, err := s.summaries(r, lots, sites)
		if err != nil {
			return nil, err
		}
		items, err := itemsByCode(r, ItemFilter{})
		out := make([]DeviceSummary, 0, len(all))
		for _, l := range all {
			out = append(out, deviceSummary(items[l.Item], l))
		}
		return out, err
	})
}

func deviceSummary(it Item, l LotSummary) DeviceSummary {
	d := DeviceSummary{LotSummary: l, Name: it.Name, CyclesAllowed: it.Life.TrainingCycles, WornOut: WornOut(it, l.Lot)}
	d.InspectionDue, _ = InspectionDue(it, l.Lot)
	return d
}

// Device tells everything that ever happened to a device, by any of its lots.
func (s *Service) Device(ctx context.Context, by Actor, lot int64) (DeviceStory, error) {
	return read(ctx, s, func(r Reader) (DeviceStory, error) {
		if err := by.must(ActSee, ""); err != nil {
			return DeviceStory{}, err
		}
		l, err := r.Lot(lot)
		if err != nil {
			return DeviceStory{}, err
		}
		if !l.Device() {
			return DeviceStory{}, Errorf(NotFound, "this lot is no device")
		}
		return s.deviceStory(r, l)
	})
}

func (s *Service) deviceStory(r Reader, l Lot) (DeviceStory, error) {
	var d DeviceStory
	moves, err := r.Movements(MovementFilter{Batch: l.Batch.ID}, Page{})
	if err != nil {
		return d, err
	}
	if len(moves) > 0 { // its present lot is the one that it was last moved into
		if l, err = r.Lot(moves[len(moves)-1].IntoLotID); err != nil {
			return d, err
		}
	}
	sums, err := s.summaries(r, []Lot{l}, nil)
	if err != nil {
		return d, err
	}
	it, err := r.Item(l.Item)
	if err != nil {
		return d, err
	}
	d.Item, d.DeviceSummary = it, deviceSummary(it, sums[0])
	if d.Inspections, err = r.Inspections(l.Batch.ID); err != nil {
		return d, err
	}
	if d.Training, err = r.TrainingUses(l.Batch.ID); err != nil {
		return d, err
	}
	notices, err := r.Notices(NoticeFilter{Item: l.Item}, Page{})
	if err != nil {
		return d, err
	}
	d.Notices = slices.DeleteFunc(notices, func(n Notice) bool { return !n.Means(l.Batch) })
	d.Movements = moves
	d.Story = storyOf(d)
	return d, nil
}
