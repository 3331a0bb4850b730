package inventory

import (
	"context"
	"errors"
	"slices"
	"strconv"
)

const (
	waitsChanged = "the bag changed after the crew looked at it"
	waitsStock   = "the ledger does not hold the stock that it names"
	waitsRetired = "the bag is retired"

	waitsUnsigned = "two people must sign for the controlled items in it"
)

// RecordCheck keeps a crew's check. One that makes sense is always kept; it
// waits for a quartermaster, whole and posting nothing, when the bag changed
// after the position that the crew saw (but see follows), or when the ledger
// lacks the stock.
// key, where given, is unique for ever: the same check never counts twice.
func (s *Service) RecordCheck(ctx context.Context, by Actor, in Check, key string) (Check, error) {
	return write(ctx, s, func(w Writer) (Check, error) {
		b, err := lockedBag(w, by, in.Bag, ActCheck)
		if err != nil {
			return in, err
		}
		now := s.Now()
		in.Bag, in.RecordedAt, in.By, in.Decision = b.Code, now, by.Name, nil
		if in.PerformedAt, err = happened(in.PerformedAt, now, "performed_at"); err != nil {
			return in, err
		}
		in.Lines, in.Found = normalLines(in.Lines, in.Found)
		if err := checkShape(in); err != nil {
			return in, err
		}
		t := checkTaking{w: w, poster: newPoster(w, by, now), bag: b, inspector: by}
		return t.take(in, by.recordKey(key))
	})
}

// normalLines brings the lines of a check to their stored form.
func normalLines(lines []CheckLine, found []FoundLine) ([]CheckLine, []FoundLine) {
	lines, found = MergeCounts(lines), slices.Clone(found)
	for i := range lines {
		lines[i].CameFrom = NormalCode(lines[i].CameFrom)
	}
	for i := range found {
		found[i].CameFrom = NormalCode(found[i].CameFrom)
	}
	return lines, found
}

// recordKey is the key under which a person's check or use is kept for ever,
// whichever face of the program it came through. No key stays none.
func (a Actor) recordKey(key string) string {
	if key == "" {
		return ""
	}
	return a.Principal() + "/" + key
}

// lockedBag returns a bag for an action, with others kept from changing it.
func lockedBag(w Writer, by Actor, code string, act Action) (Bag, error) {
	b, err := bagFor(w, by, code, act)
	if err != nil {
		return b, err
	}
	if err := w.LockBags([]string{b.Code}); err != nil {
		return b, err
	}
	return w.Bag(b.Code)
}

// checkTaking is one check being taken into the books.
type checkTaking struct {
	w         Writer
	poster    *poster
	bag       Bag
	inspector Actor // who made its inspections
}

// take decides between posting and waiting, and keeps the check.
func (t *checkTaking) take(c Check, key string) (Check, error) {
	if c.SeenPosition > t.bag.Position || c.SeenPosition < 0 {
		return c, Invalidf("seen_position", "give the position that the checklist showed")
	}
	if c.Kind == SealCheck && t.bag.Seal == "" && c.SeenPosition == t.bag.Position {
		return c, Errorf(Conflict, "this bag has no recorded seal; make a full check")
	}
	if err := t.lotsExist(c); err != nil {
		return c, err
	}
	if t.bag.Retired() {
		return t.wait(c, key, waitsRetired)
	}
	if c.SeenPosition != t.bag.Position {
		since, err := t.w.BagEvents(t.bag.Code, c.SeenPosition)
		if err != nil {
			return c, err
		}
		if !c.follows(t.bag, t.poster.by, since) {
			return t.wait(c, key, waitsChanged)
		}
	}
	plan, err := t.plan(c, nil)
	if errors.Is(err, errUnsigned) {
		return t.wait(c, key, waitsUnsigned)
	}
	if KindOf(err) == Conflict {
		return t.wait(c, key, messageOf(err))
	}
	if err != nil {
		return c, err
	}
	if plan.waits != "" {
		return t.wait(c, key, plan.waits)
	}
	c.Status = StatusPosted
	if c, err = t.w.AddCheck(c, key); err != nil {
		return c, err
	}
	return c, t.carryOut(c, plan)
}

func (t *checkTaking) lotsExist(c Check) error {
	for i, l := range c.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		if _, err := t.w.Lot(l.LotID); err != nil {
			return known(err, path+".lot_id", "lot")
		}
		if err := t.mayTakeFrom(l.CameFrom, path); err != nil {
			return err
		}
	}
	for i, f := range c.Found {
		path := "found[" + strconv.Itoa(i) + "]"
		if _, err := t.poster.item(f.Item); err != nil {
			return known(err, path+".item", "item")
		}
		if err := t.mayTakeFrom(f.CameFrom, path); err != nil {
			return err
		}
	}
	return nil
}

// mayTakeFrom refuses a bag that the crew cannot have taken from.
func (t *checkTaking) mayTakeFrom(bag, path string) error {
	if bag == "" {
		return nil
	}
	if bag == t.bag.Code {
		return Invalidf(path+".came_from", "name another bag")
	}
	_, err := bagFor(t.w, t.poster.by, bag, ActCheck)
	return known(err, path+".came_from", "bag")
}

func (t *checkTaking) wait(c Check, key, because string) (Check, error) {
	c.Status, c.WaitsBecause = StatusWaiting, because
	return t.w.AddCheck(c, key)
}

// checkPlan is what posting a check will do.
type checkPlan struct {
	movements    []Movement
	observations []Observation
	waits        string // why it cannot be posted as it is
}

// plan works out what posting a full check does. since is what moved after the
// crew looked, nil for nothing.
func (t *checkTaking) plan(c Check, since map[int64]int) (checkPlan, error) {
	if c.Kind == SealCheck {
		return checkPlan{}, nil
	}
	held, err := t.held(c)
	if err != nil {
		return checkPlan{}, err
	}
	expected := map[int64]int{}
	for k, n := range held {
		if k.place == t.bag.Code {
			expected[k.lot] += n
		}
	}
	for lot, n := range since {
		expected[lot] -= n
	}
	var plan checkPlan
	if plan.movements, err = PlanCounts(t.bag.Code, c.Lines, expected, c.PerformedAt); err != nil {
		return plan, err
	}
	if plan.movements, err = t.poster.toInspect(plan.movements); err != nil {
		return plan, err
	}
	if _, _, short := lacking(plan.movements, held); short {
		plan.waits = waitsStock
	}
	if err := t.fromLost(plan.movements); err != nil {
		return plan, err
	}
	for i, f := range c.Found {
		if err := t.planFound(&plan, f, c.PerformedAt); err != nil {
			return plan, under(err, "found["+strconv.Itoa(i)+"]")
		}
	}
	if err := t.judgeInspections(c); err != nil {
		return plan, err
	}
	plan.movements, err = t.poster.judge(plan.movements, "lines")
	return plan, err
}

// judgeInspections refuses inspections of what is no device. One that does not
// answer the item's points makes the check wait: the points may have changed
// since the crew looked.
func (t *checkTaking) judgeInspections(c Check) error {
	for i, in := range c.Inspections {
		lot, err := t.w.Lot(in.LotID)
		if err != nil {
			return err
		}
		if !lot.Device() {
			return Invalidf("inspections["+strconv.Itoa(i)+"].lot_id", "only devices are inspected")
		}
		it, err := t.poster.item(lot.Item)
		if err != nil {
			return err
		}
		if _, err := JudgeInspection(it, in.Points); err != nil {
			return Errorf(Conflict, "the inspection of serial %s does not answer the points of its item", lot.Serial)
		}
	}
	return nil
}

// held returns what lies in the bag, and in those that the crew took from, by
// place and lot.
func (t *checkTaking) held(c Check) (map[placeLot]int, error) {
	places := []string{t.bag.Code}
	for _, l := range c.Lines {
		if l.CameFrom != "" {
			places = append(places, l.CameFrom)
		}
	}
	if err := t.w.LockBags(places); err != nil {
		return nil, err
	}
	stock, err := t.w.Stock(StockFilter{Places: places})
	m := map[placeLot]int{}
	for _, st := range stock {
		m[placeLot{st.Place, st.Lot.ID}] = st.Qty
	}
	return m, err
}

// fromLost lets a device that is known as lost be found from there.
func (t *checkTaking) fromLost(ms []Movement) error {
	for i := range ms {
		if ms[i].Reason != ReasonFound {
			continue
		}
		l, err := t.w.Lot(ms[i].LotID)
		if err != nil {
			return err
		}
		if l.Device() {
			ms[i].From = string(KindLost)
		}
	}
	return nil
}

// planFound adds what follows from one thing found that should not be there.
func (t *checkTaking) planFound(plan *checkPlan, f FoundLine, at Instant) error {
	it, err := t.poster.item(f.Item)
	if err != nil {
		return err
	}
	what := plural(f.Qty, "unit") + " of " + it.Name
	lot, training, err := t.trainingDevice(f)
	if err != nil {
		return err
	}
	if f.Reason == FoundTrainingMark || training {
		plan.observations = append(plan.observations, Observation{Kind: SawTrainingMark, Item: it.Code, LotID: lot.ID,
			Text: what + lotText(lot) + " marked for training, found in this bag"})
		return nil
	}
	if f.CameFrom != "" {
		return t.planFromBag(plan, f, at)
	}
	if f.Unidentified {
		return t.planUnidentified(plan, it, f, what, at)
	}
	site, err := t.poster.site(t.bag.AtSite)
	if err != nil {
		return err
	}
	b, err := Receipt{Item: it.Code, Product: f.Product, LotNo: f.LotNo, Serial: f.Serial, EndPrinted: f.EndPrinted, EndWording: f.EndWording, Qty: f.Qty}.batch(it, site.Today(at))
	if err != nil {
		return err
	}
	from, known, waits, err := t.foundLot(b, site.Today(at))
	if err != nil {
		return err
	}
	if waits != "" {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, Movement{LotID: known.ID, Qty: f.Qty, From: from, To: t.bag.Code, Reason: ReasonFound, HappenedAt: at})
	return nil
}

// planFromBag moves what another bag had instead of finding it. Where that bag
// lacks it, or has several lots that it could be, the check waits.
func (t *checkTaking) planFromBag(plan *checkPlan, f FoundLine, at Instant) error {
	if err := t.w.LockBags([]string{f.CameFrom}); err != nil {
		return err
	}
	stock, err := t.w.Stock(StockFilter{Places: []string{f.CameFrom}, Item: f.Item})
	if err != nil {
		return err
	}
	taken := map[int64]int{}
	for _, m := range plan.movements {
		if m.From == f.CameFrom {
			taken[m.LotID] += m.Qty
		}
	}
	lot, waits := lotInBag(stock, taken, f)
	if waits != "" {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, Movement{LotID: lot, Qty: f.Qty, From: f.CameFrom, To: t.bag.Code, Reason: ReasonTransfer, HappenedAt: at,
		Note: "taken by the crew of bag " + t.bag.Code})
	return nil
}

// lotInBag finds the lot that a line means among what lies in a bag, taken
// apart, or says why it cannot.
func lotInBag(stock []Stock, taken map[int64]int, f FoundLine) (lot int64, waits string) {
	could := 0
	for _, st := range stock {
		l := st.Lot
		switch {
		case f.LotID != 0 && l.ID != f.LotID,
			f.LotNo != "" && foldNumber(l.LotNo) != foldNumber(f.LotNo),
			f.Serial != "" && foldNumber(l.Serial) != foldNumber(f.Serial),
			st.Qty-taken[l.ID] < f.Qty:
			continue
		}
		could++
		lot = l.ID
	}
	switch could {
	case 0:
		return 0, waitsStock
	case 1:
		return lot, ""
	}
	return 0, "it could be any of several lots in bag " + f.CameFrom
}

// trainingDevice tells whether what was found in a bag for issue is a training
// device by its serial number, marked or not.
func (t *checkTaking) trainingDevice(f FoundLine) (Lot, bool, error) {
	if f.Serial == "" || t.bag.Purpose != ForIssue {
		return Lot{}, false, nil
	}
	lots, err := t.w.Lots(LotFilter{Item: f.Item, Serial: f.Serial, Devices: true}, Page{})
	if err != nil || len(lots) == 0 {
		return Lot{}, false, err
	}
	now, _, err := presentLot(t.w, lots[0])
	return now, now.Training, err
}

// foundLot returns the lot that a find belongs to and where it comes from. A
// device that the ledger has somewhere else makes the check wait.
func (t *checkTaking) foundLot(b Batch, day Day) (from string, lot Lot, waits string, err error) {
	from = string(KindFound)
	clocks := Clocks{Training: t.bag.Purpose == ForTraining}
	if b.Serial == "" {
		if lot, err = t.poster.lotFor(b, clocks, day); err != nil || t.bag.Purpose == ForTraining {
			return from, lot, "", err
		}
		only, err := onlyTraining(t.w, lot.Batch.ID)
		if only {
			waits = "the ledger has this batch as training stock only"
		}
		return from, lot, waits, err
	}
	old, err := t.w.FindBatch(b.Item, 0, "", b.Serial)
	if err != nil && KindOf(err) == NotFound {
		lot, err = t.poster.lotFor(b, clocks, day)
		return from, lot, "", err
	}
	if err != nil {
		return "", Lot{}, "", err
	}
	id, _, lost, err := lostAs(t.w, old.ID)
	if err != nil {
		return "", Lot{}, "", err
	}
	if lost {
		lot, err = t.w.Lot(id)
		return string(KindLost), lot, "", err
	}
	return "", Lot{}, "the ledger has the serial number that was found somewhere else", nil
}

// onlyTraining tells whether all that the service holds of a batch is training
// stock: what is found of it is training stock too.
func onlyTraining(r Reader, batch int64) (bool, error) {
	stock, err := r.Stock(StockFilter{Batch: batch})
	return len(stock) > 0 && !slices.ContainsFunc(stock, func(st Stock) bool { return !st.Lot.Training }), err
}

// planUnidentified sends what bears no batch or date to quarantine, with an
// observation for the quartermaster.
func (t *checkTaking) planUnidentified(plan *checkPlan, it Item, f FoundLine, what string, at Instant) error {
	site, err := t.poster.site(t.bag.AtSite)
	if err != nil {
		return err
	}
	lot, err := t.poster.lotFor(Batch{Item: it.Code}, Clocks{Unidentified: true, Training: t.bag.Purpose == ForTraining}, site.Today(at))
	if err != nil {
		return err
	}
	plan.movements = append(plan.movements, Movement{LotID: lot.ID, Qty: f.Qty, From: string(KindFound), To: site.QuarantineCode(t.bag.Purpose), Reason: ReasonFound, HappenedAt: at})
	plan.observations = append(plan.observations, Observation{Kind: SawUnidentified, Item: it.Code, LotID: lot.ID, Text: what + ": no batch or date to be read, taken to quarantine"})
	return nil
}

// carryOut does what the plan says and notes the check on the bag.
func (t *checkTaking) carryOut(c Check, plan checkPlan) error {
	source := "check " + strconv.FormatInt(c.ID, 10)
	if _, err := t.poster.append(plan.movements); err != nil {
		return err
	}
	for _, in := range c.Inspections {
		st, place, err := t.poster.device(in.LotID)
		if err != nil {
			return err
		}
		if _, err := t.poster.inspect(t.inspector, st, place, in, c.PerformedAt, "", source); err != nil {
			return err
		}
	}
	b, err := t.w.Bag(t.bag.Code)
	if err != nil {
		return err
	}
	if err := t.seal(&b, c, source); err != nil {
		return err
	}
	if c.Kind == FullCheck {
		b.LastFullCheck = max(b.LastFullCheck, c.PerformedAt)
	} else {
		b.LastSealCheck = max(b.LastSealCheck, c.PerformedAt)
	}
	for _, o := range plan.observations {
		o.Bag, o.Source, o.OpenedAt, o.OpenedBy = b.Code, source, c.PerformedAt, c.By
		if _, err := t.w.AddObservation(o); err != nil {
			return err
		}
	}
	if err := t.w.SetBagRecord(b.Code, b.BagRecord); err != nil {
		return err
	}
	return t.putBack(b, c, source)
}

// putBack puts a bag back on the run where its crew ask for it with a full
// check made after it was taken off.
func (t *checkTaking) putBack(b Bag, c Check, source string) error {
	if !c.PutBack || b.TakenOff == nil || c.PerformedAt < b.TakenOff.At {
		return nil
	}
	old := b
	b.TakenOff, b.Version = nil, 0
	_, err := changeBag(t.w, t.poster.by, t.poster.now, old, b, source)
	return err
}

// seal records what a check says of the seal, unless something later is known
// of it. Another seal is also an observation.
func (t *checkTaking) seal(b *Bag, c Check, source string) error {
	if t.bag.knowsLater(c.SeenPosition, c.PerformedAt) {
		return nil
	}
	other := c.SealSeen != "" && b.Seal != "" && !sameSeal(c.SealSeen, b.Seal)
	full := c.Kind == FullCheck
	report := sealReport{at: c.PerformedAt, seen: c.SealSeen, broken: c.SealBroken, opens: full, clears: full, set: c.SealSet}
	if err := recordSeal(t.w, b, report, c.By, source); err != nil {
		return err
	}
	if !other {
		return nil
	}
	_, err := t.w.AddObservation(Observation{Bag: b.Code, Kind: SawOtherSeal, Source: source, OpenedAt: c.PerformedAt, OpenedBy: c.By, Text: "a seal with another number than the recorded one"})
	return err
}
