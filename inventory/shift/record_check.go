package shift

import (
	"context"
	"errors"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/scope"
)

const (
	waitsChanged = "the bag changed after the crew looked at it"
	waitsStock   = "the ledger does not hold the stock that it names"
	waitsRetired = "the bag is retired"

	waitsUnsigned = "two people must sign for the controlled items in it"
)

// RecordCheck keeps a crew's check. One that makes sense is always kept; it waits for a quartermaster, whole and
// posting nothing, when the bag changed after the position that the crew saw (but see UnaffectedBy), when the ledger
// lacks the stock, or when a rule or a signature is in the way. key, where given, is unique for ever: the same check
// never counts twice. Refuses: Forbidden without check where the bag is; NotFound for the bag; Invalid by field;
// Conflict for a seal check of a bag without a seal, and for a key that is taken. Locks the bag and those that the
// crew took from.
func (s *Service) RecordCheck(ctx context.Context, by inventory.Actor, in inventory.Check, key string) (inventory.Check,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Check, error) {
		b, err := scope.LockedBag(w, by, in.Bag, inventory.ActCheck)
		if err != nil {
			return in, err
		}
		now := s.now()
		in.Bag, in.RecordedAt, in.By, in.Decision = b.Code, now, by.Name, nil
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, now, "happened_at"); err != nil {
			return in, err
		}
		in.Lines, in.Found = normalLines(in.Lines, in.Found)
		if err := inventory.CheckShape(in); err != nil {
			return in, err
		}
		t := takingCheck(w, by, now, b, by)
		return t.take(in, by.RecordKey(key))
	})
}

// normalLines brings the lines of a check to their stored form.
func normalLines(lines []inventory.CheckLine, found []inventory.FoundLine) ([]inventory.CheckLine,
	[]inventory.FoundLine) {
	lines, found = inventory.MergeCounts(lines), slices.Clone(found)
	for i := range lines {
		lines[i].CameFrom = inventory.NormalCode(lines[i].CameFrom)
	}
	for i := range found {
		found[i].CameFrom = inventory.NormalCode(found[i].CameFrom)
	}
	return lines, found
}

// checkTaking is one check being taken into the books.
type checkTaking struct {
	w         inventory.Writer
	unit      *ledger.Unit
	bag       inventory.Bag
	inspector inventory.Actor // who made its inspections
}

func takingCheck(w inventory.Writer, by inventory.Actor, now inventory.Instant, b inventory.Bag,
	inspector inventory.Actor) checkTaking {
	t := checkTaking{w: w, unit: ledger.NewUnit(w, by, now, ledger.TwoSign), bag: b, inspector: inspector}
	t.unit.Hold(b)
	return t
}

// take decides between posting and waiting, and keeps the check.
func (t *checkTaking) take(c inventory.Check, key string) (inventory.Check, error) {
	if c.SeenPosition > t.bag.Position || c.SeenPosition < 0 {
		return c, inventory.Invalidf("seen_position", "give the position that the checklist showed")
	}
	if c.Kind == inventory.SealCheck && t.bag.Seal == "" && c.SeenPosition == t.bag.Position {
		return c, inventory.Errorf(inventory.Conflict, "this bag has no recorded seal; make a full check")
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
		if !c.UnaffectedBy(t.bag, t.unit.By, since) {
			return t.wait(c, key, waitsChanged)
		}
	}
	plan, err := t.plan(c, nil)
	if errors.Is(err, account.ErrUnsigned) {
		return t.wait(c, key, waitsUnsigned)
	}
	if inventory.KindOf(err) == inventory.Conflict {
		return t.wait(c, key, inventory.MessageOf(err))
	}
	if err != nil {
		return c, err
	}
	if plan.waits != "" {
		return t.wait(c, key, plan.waits)
	}
	c.Status = inventory.StatusAccepted
	if c, err = t.w.AddCheck(c, key); err != nil {
		return c, err
	}
	return c, t.carryOut(c, plan)
}

func (t *checkTaking) lotsExist(c inventory.Check) error {
	lots := make([]int64, 0, len(c.Lines)+len(c.Inspections))
	for _, l := range c.Lines {
		lots = append(lots, l.LotID)
	}
	for _, in := range c.Inspections {
		lots = append(lots, in.LotID)
	}
	if err := t.unit.KnowLots(lots); err != nil {
		return err
	}
	for i, l := range c.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		if _, err := t.unit.Lot(l.LotID); err != nil {
			return inventory.AsField(err, path+".lot_id", "lot")
		}
		if err := t.mayTakeFrom(l.CameFrom, path); err != nil {
			return err
		}
	}
	for i, f := range c.Found {
		path := "found[" + strconv.Itoa(i) + "]"
		if _, err := t.unit.Item(f.Item); err != nil {
			return inventory.AsField(err, path+".item", "item")
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
		return inventory.Invalidf(path+".came_from", "name another bag")
	}
	_, err := scope.BagFor(t.w, t.unit.By, bag, inventory.ActCheck)
	return inventory.AsField(err, path+".came_from", "bag")
}

func (t *checkTaking) wait(c inventory.Check, key, because string) (inventory.Check, error) {
	c.Status, c.ReviewBecause = inventory.StatusToReview, because
	return t.w.AddCheck(c, key)
}

// checkPlan is what posting a check will do.
type checkPlan struct {
	movements    []inventory.Movement
	observations []inventory.Observation
	waits        string // why it cannot be posted as it is
}

// plan works out what posting a full check does. since is what moved after the
// crew looked, nil for nothing.
func (t *checkTaking) plan(c inventory.Check, since map[int64]int) (checkPlan, error) {
	if c.Kind == inventory.SealCheck {
		return checkPlan{}, nil
	}
	held, err := t.held(c)
	if err != nil {
		return checkPlan{}, err
	}
	expected := map[int64]int{}
	for k, n := range held {
		if k.Place == t.bag.Code {
			expected[k.Lot] += n
		}
	}
	for lot, n := range since {
		expected[lot] -= n
	}
	var plan checkPlan
	if plan.movements, err = inventory.PlanCounts(t.bag.Code, c.Lines, expected, c.HappenedAt); err != nil {
		return plan, err
	}
	if plan.movements, err = toInspect(t.unit, plan.movements); err != nil {
		return plan, err
	}
	if _, _, short := inventory.Lacking(plan.movements, held); short {
		plan.waits = waitsStock
	}
	if err := t.fromLost(plan.movements); err != nil {
		return plan, err
	}
	for i, f := range c.Found {
		if err := t.planFound(&plan, f, c.HappenedAt); err != nil {
			return plan, ledger.PrefixPaths(err, "found["+strconv.Itoa(i)+"]")
		}
	}
	if err := t.judgeInspections(c); err != nil {
		return plan, err
	}
	plan.movements, err = t.unit.Judge(plan.movements, "lines")
	return plan, err
}

// judgeInspections refuses inspections of what is no device. One that does not
// answer the item's points makes the check wait: the points may have changed
// since the crew looked.
func (t *checkTaking) judgeInspections(c inventory.Check) error {
	for i, in := range c.Inspections {
		lot, err := t.unit.Lot(in.LotID)
		if err != nil {
			return err
		}
		if !lot.Device() {
			return inventory.Invalidf("inspections["+strconv.Itoa(i)+"].lot_id", "only devices are inspected")
		}
		it, err := t.unit.Item(lot.Item)
		if err != nil {
			return err
		}
		if _, err := inventory.JudgeInspection(it, in.Points); err != nil {
			return inventory.Errorf(inventory.Conflict, "the inspection of serial %s does not answer the points of its item",
				lot.Serial)
		}
	}
	return nil
}

// held returns what lies in the bag, and in those that the crew took from, by
// place and lot.
func (t *checkTaking) held(c inventory.Check) (map[inventory.PlaceLot]int, error) {
	places := []string{t.bag.Code}
	for _, l := range c.Lines {
		if l.CameFrom != "" {
			places = append(places, l.CameFrom)
		}
	}
	if err := t.w.LockBags(places); err != nil {
		return nil, err
	}
	return heldIn(t.w, inventory.StockFilter{Places: places})
}
