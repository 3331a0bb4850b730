package shift

import (
	"context"
	"errors"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// RecordUse keeps what an incident consumed from a bag, and lets it wait as RecordCheck does. One person may record
// it alone: of a controlled item the second signature is owed then. Refuses: Forbidden without check where the bag
// is; NotFound for the bag; Invalid by field; Conflict for a key that is taken. Locks the bag and those that the
// crew took from.
func (s *Service) RecordUse(ctx context.Context, by inventory.Actor, in inventory.Use, key string) (inventory.Use,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Use, error) {
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
		in.Lines = normalUse(in.Lines)
		if err := inventory.UseShape(in); err != nil {
			return in, err
		}
		t := useTaking{newTaking(w, by, now, b, ledger.AloneUses)}
		return t.take(in, keyOf(by, in.By, key))
	})
}

// normalUse brings the codes of bags that were typed to their stored form.
func normalUse(typed []inventory.UseLine) []inventory.UseLine {
	lines := slices.Clone(typed)
	for i := range lines {
		lines[i].CameFrom = inventory.NormalCode(lines[i].CameFrom)
	}
	return lines
}

// useTaking is one use being taken into the books.
type useTaking struct{ taking }

func (t *useTaking) take(u inventory.Use, key string) (inventory.Use, error) {
	changed, err := t.changed(u.SeenPosition,
		func(since []inventory.BagEvent) bool { return u.UnaffectedBy(t.unit.By, since) })
	if err != nil {
		return u, err
	}
	if err := t.linesExist(u); err != nil {
		return u, err
	}
	if changed != nil {
		return t.wait(u, key, changed)
	}
	ms, waits, err := t.plan(u)
	if errors.Is(err, account.ErrUnsigned) { // a program's, that names no person
		return t.wait(u, key, waitsUnsigned)
	}
	if err != nil {
		return u, err
	}
	if waits != nil {
		return t.wait(u, key, waits)
	}
	if u.SentBy != "" {
		return t.wait(u, key, inventory.SaidToBe(u.By))
	}
	u.Status = inventory.StatusAccepted
	if u, err = t.w.AddUse(u, key); err != nil {
		return u, err
	}
	return u, t.carryOut(u, ms)
}

// linesExist refuses lots that do not exist and bags that the crew cannot have taken from. Amounts are brought to the
// numbers that they are.
func (t *useTaking) linesExist(u inventory.Use) error {
	lots := make([]int64, 0, len(u.Lines))
	for _, l := range u.Lines {
		lots = append(lots, l.LotID)
	}
	if err := t.unit.KnowLots(lots); err != nil {
		return err
	}
	for i, l := range u.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		c, err := t.content(l.LotID)
		if err != nil {
			return inventory.AsField(err, path+".lot_id", "not found")
		}
		u.Lines[i].Given, u.Lines[i].Wasted = amount.Of(string(l.Given), c.Unit), amount.Of(string(l.Wasted), c.Unit)
		if l.CameFrom == "" {
			continue
		}
		if _, err := scope.BagFor(t.w, t.unit.By, l.CameFrom, inventory.ActCheck); err != nil {
			return inventory.AsField(err, path+".came_from", "not found")
		}
	}
	return nil
}

// plan works out the movements of a use, or why it cannot be posted as it is.
func (t *useTaking) plan(u inventory.Use) (ms []inventory.Movement, waits message.Message, err error) {
	contents := map[int64]amount.Content{}
	for _, l := range u.Lines {
		if contents[l.LotID], err = t.content(l.LotID); err != nil {
			return nil, nil, err
		}
	}
	ms = inventory.UseMovements(u, contents)
	if u.By != t.unit.By.Name { // a quartermaster posts what somebody else reported
		for i := range ms {
			ms[i].Note = inventory.WithNote("reported by "+u.By, ms[i].Note)
		}
	}
	if ms, err = toInspect(t.unit, inventory.Unsettled(ms, t.unit.Accepting.Says)); err != nil {
		return nil, nil, err
	}
	stock, err := t.held(usedFrom(u))
	if err != nil {
		return nil, nil, err
	}
	if _, _, short := inventory.Lacking(ms, heldOf(stock)); short {
		return nil, waitsStock, nil
	}
	ms, err = t.unit.Judge(ms, "lines")
	if inventory.KindOf(err) == inventory.Conflict {
		return nil, inventory.MessageOf(err), nil
	}
	return ms, doubted(ms), err
}

// content is what a unit of a lot holds.
func (t *taking) content(lot int64) (amount.Content, error) {
	l, err := t.unit.Lot(lot)
	if err != nil {
		return amount.Content{}, err
	}
	it, err := t.unit.Item(l.Item)
	return it.Content, err
}

// doubted says what of movements does not add up, nil for nothing: a report of them waits for a quartermaster.
func doubted(ms []inventory.Movement) message.Message {
	for _, m := range ms {
		if m.Doubt != nil {
			return m.Doubt
		}
	}
	return nil
}

// usedFrom lists the bags that the crew of a use took from.
func usedFrom(u inventory.Use) (places []string) {
	for _, l := range u.Lines {
		places = append(places, l.CameFrom)
	}
	return places
}

// toInspect sends reusable devices that were used to quarantine instead of
// writing them off: they return through an inspection.
func toInspect(p *ledger.Unit, ms []inventory.Movement) ([]inventory.Movement, error) {
	for i, m := range ms {
		if m.Reason != inventory.ReasonUsed {
			continue
		}
		lot, err := p.Lot(m.LotID)
		if err != nil {
			return nil, err
		}
		it, err := p.Item(lot.Item)
		if err != nil {
			return nil, err
		}
		if !inventory.Reusable(it, lot) {
			continue
		}
		from, err := p.Place(m.From)
		if err != nil {
			return nil, err
		}
		station, err := p.CurrentStation(from)
		if err != nil {
			return nil, err
		}
		ms[i].To = station.QuarantineCode(from.Purpose)
	}
	return ms, nil
}

// carryOut moves the stock and notes the use on the bag.
func (t *useTaking) carryOut(u inventory.Use, ms []inventory.Movement) error {
	if _, err := t.unit.Append(ms); err != nil {
		return err
	}
	b := t.bag
	if !t.bag.KnowsLater(u.SeenPosition, u.HappenedAt) {
		report := ReportedSeal{At: u.HappenedAt, seen: u.SealSeen, Opens: true, clears: true, Set: u.SealSet}
		if err := RecordSeal(t.w, &b, report, u.By, "use "+strconv.FormatInt(u.ID, 10)); err != nil {
			return err
		}
	}
	b.LastUse = max(b.LastUse, u.HappenedAt)
	return t.w.SetBagRecord(b.Code, b.BagRecord)
}
