package shift

import (
	"context"
	"errors"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

var (
	waitsChanged = message.M("the bag changed after the crew looked")
	waitsStock   = message.M("records show less stock than was reported used")
	waitsRetired = message.M("the bag is retired")

	waitsUnsigned = message.M("two signatures required")
)

// RecordCheck keeps a crew's check. One that makes sense is always kept; it waits for a quartermaster, whole and
// posting nothing, when the bag changed after the position that the crew saw (but see UnaffectedBy), when the ledger
// lacks the stock, when a rule or a signature is in the way, or when it is only said to be somebody's: in.By, where it
// is not the actor. key, where given, is unique for ever: the same check
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
		in.Bag, in.RecordedAt, in.Decision = b.Code, now, nil
		in.By, in.SentBy = claimed(by, in.By)
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, now, "happened_at"); err != nil {
			return in, err
		}
		in.Lines, in.Found = normalLines(in.Lines, in.Found)
		if err := inventory.CheckShape(in); err != nil {
			return in, err
		}
		t := takingCheck(w, by, now, b, by)
		return t.take(in, keyOf(by, in.By, key))
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

// taking is a check or use being taken into the books.
type taking struct {
	w    inventory.Writer
	unit *ledger.Unit
	bag  inventory.Bag
}

func newTaking(w inventory.Writer, by inventory.Actor, now inventory.Instant, b inventory.Bag,
	policy ledger.Policy) taking {
	t := taking{w, ledger.NewUnit(w, by, now, policy), b}
	t.unit.Hold(b)
	t.unit.OfCrew = true
	return t
}

// changed tells why a record waits whatever it says, nil for not: the bag is retired, or changed after the position
// that the crew saw. Refuses a position that the bag cannot have had.
func (t *taking) changed(position int64, unaffected func(since []inventory.BagEvent) bool) (message.Message, error) {
	switch {
	case position > t.bag.Position || position < 0:
		return nil, inventory.InvalidField("seen_position", "load the checklist again")
	case t.bag.Retired():
		return waitsRetired, nil
	case position == t.bag.Position:
		return nil, nil
	}
	since, err := t.w.BagEvents(t.bag.Code, position)
	if err != nil || unaffected(since) {
		return nil, err
	}
	return waitsChanged, nil
}

// held returns what lies in the bag, and in those that the crew took from, which it locks.
func (t *taking) held(cameFrom []string) ([]inventory.Stock, error) {
	places := slices.DeleteFunc(append(cameFrom, t.bag.Code), func(bag string) bool { return bag == "" })
	if err := t.w.LockBags(places); err != nil {
		return nil, err
	}
	return t.w.Stock(inventory.StockFilter{Places: places})
}

// checkTaking is one check being taken into the books.
type checkTaking struct {
	taking
	inspector inventory.Actor      // who made its inspections
	says      []inventory.Reported // what it said when it came to review, where it is accepted as it is
}

func takingCheck(w inventory.Writer, by inventory.Actor, now inventory.Instant, b inventory.Bag,
	inspector inventory.Actor) checkTaking {
	return checkTaking{taking: newTaking(w, by, now, b, ledger.TwoSign), inspector: inspector}
}

// take decides between posting and waiting, and keeps the check.
func (t *checkTaking) take(c inventory.Check, key string) (inventory.Check, error) {
	changed, err := t.changed(c.SeenPosition,
		func(since []inventory.BagEvent) bool { return c.UnaffectedBy(t.bag, t.unit.By, since) })
	if err != nil {
		return c, err
	}
	if c.Kind == inventory.SealCheck && t.bag.Seal == "" && c.SeenPosition == t.bag.Position {
		return c, inventory.Refuse(inventory.Conflict, "record a full check")
	}
	if err := t.lotsExist(c); err != nil {
		return c, err
	}
	if changed != nil {
		return t.wait(c, key, changed)
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
	if plan.waits != nil {
		return t.wait(c, key, plan.waits)
	}
	if c.SentBy != "" {
		return t.wait(c, key, inventory.SaidToBe(c.By))
	}
	c.Status = inventory.StatusAccepted
	if c, err = t.w.AddCheck(c, key); err != nil {
		return c, err
	}
	if err := t.carryOut(c, plan); err != nil || c.Kind == inventory.FullCheck {
		return c, err
	}
	c.StillReported, err = t.stillReported()
	return c, err
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
			return inventory.AsField(err, path+".lot_id", "not found")
		}
		if err := t.mayTakeFrom(l.CameFrom, path); err != nil {
			return err
		}
	}
	for i, f := range c.Found {
		path := "found[" + strconv.Itoa(i) + "]"
		if _, err := t.unit.Item(f.Item); err != nil {
			return inventory.AsField(err, path+".item", "not found")
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
		return inventory.InvalidField(path+".came_from", "choose another bag")
	}
	_, err := scope.BagFor(t.w, t.unit.By, bag, inventory.ActCheck)
	return inventory.AsField(err, path+".came_from", "not found")
}

// checkPlan is what posting a check will do.
type checkPlan struct {
	movements    []inventory.Movement
	observations []inventory.Observation
	waits        message.Message // why it cannot be posted as it is
}

// plan works out what posting a full check does. since is what moved after the crew looked, nil for nothing.
func (t *checkTaking) plan(c inventory.Check, since map[int64]int) (checkPlan, error) {
	if c.Kind == inventory.SealCheck {
		return checkPlan{}, nil
	}
	stock, err := t.held(takenFrom(c))
	if err != nil {
		return checkPlan{}, err
	}
	held, expected := heldOf(stock), map[int64]int{}
	for _, st := range stock {
		if st.Place == t.bag.Code {
			expected[st.Lot.ID] += st.Qty
		}
	}
	for lot, n := range since {
		expected[lot] -= n
	}
	var plan checkPlan
	if plan.movements, err = inventory.PlanCounts(t.bag.Code, c.Lines, c.Asks(expected), c.HappenedAt); err != nil {
		return plan, err
	}
	plan.movements = inventory.Unsettled(plan.movements, t.says)
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
	if plan.waits == nil {
		plan.waits = doubted(plan.movements)
	}
	return plan, err
}

// judgeInspections refuses inspections of what is no device. One that does not answer the item's points makes the
// check wait: the points may have changed since the crew looked.
func (t *checkTaking) judgeInspections(c inventory.Check) error {
	for i, in := range c.Inspections {
		lot, err := t.unit.Lot(in.LotID)
		if err != nil {
			return err
		}
		if !lot.Device() {
			return inventory.InvalidField("inspections["+strconv.Itoa(i)+"].lot_id", "only for devices")
		}
		it, err := t.unit.Item(lot.Item)
		if err != nil {
			return err
		}
		passed, err := inventory.JudgeInspection(it, in.Points)
		if err != nil {
			return inventory.Refuse(inventory.Conflict, "serial {1}: answer every point", lot.Serial)
		}
		if passed {
			continue
		}
		st, place, err := t.unit.Device(in.LotID)        // which leaves where it is
		if inventory.KindOf(err) == inventory.Conflict { // it is gone, and a decision goes past it
			continue
		}
		if err != nil {
			return err
		}
		if _, err := t.unit.InTime(inventory.Movement{LotID: st.Lot.ID, Qty: 1, From: place.Code,
			HappenedAt: c.HappenedAt}); err != nil {
			return err
		}
	}
	return nil
}

// takenFrom lists the bags that the crew of a check took from.
func takenFrom(c inventory.Check) (places []string) {
	for _, l := range c.Lines {
		places = append(places, l.CameFrom)
	}
	for _, f := range c.Found {
		places = append(places, f.CameFrom)
	}
	return places
}
