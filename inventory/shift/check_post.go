package shift

import (
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

// carryOut does what the plan says and notes the check on the bag.
func (t *checkTaking) carryOut(c inventory.Check, plan checkPlan) error {
	source := "check " + strconv.FormatInt(c.ID, 10)
	if c.Kind == inventory.FullCheck {
		if err := t.unit.Settle(c.Bag, c.Settles); err != nil {
			return err
		}
	}
	if _, err := t.unit.Append(plan.movements); err != nil {
		return err
	}
	for _, in := range c.Inspections {
		st, place, err := t.unit.Device(in.LotID)
		if inventory.KindOf(err) == inventory.Conflict && t.settled(in.LotID) {
			continue // it is gone, and the quartermaster removed it
		}
		if err != nil {
			return err
		}
		if _, err := t.unit.Inspect(t.inspector, st, place, in, c.HappenedAt, "", source); err != nil {
			return err
		}
	}
	b := t.bag
	if err := t.seal(&b, c, source); err != nil {
		return err
	}
	switch {
	case c.Whole():
		b.LastFullCheck = max(b.LastFullCheck, c.HappenedAt)
	case c.Kind == inventory.SealCheck:
		b.LastSealCheck = max(b.LastSealCheck, c.HappenedAt)
	}
	for _, o := range plan.observations {
		o.Bag, o.Source, o.OpenedAt, o.OpenedBy = b.Code, source, c.HappenedAt, c.By
		if _, err := t.w.AddObservation(o); err != nil {
			return err
		}
	}
	if err := t.w.SetBagRecord(b.Code, b.BagRecord); err != nil {
		return err
	}
	return t.putBack(b, c, source)
}

// putBack puts a bag back on the run where its crew ask for it with a full check made after it was taken off.
func (t *checkTaking) putBack(b inventory.Bag, c inventory.Check, source string) error {
	if !c.ReturnToService || b.OutOfService == nil || c.HappenedAt < b.OutOfService.RecordedAt {
		return nil
	}
	old := b
	b.OutOfService, b.Version = nil, 0
	_, err := lists.ChangeBag(t.w, t.unit.By, t.unit.Now, old, b, source)
	return err
}

// seal records what a check says of the seal, unless something later is known
// of it. Another seal is also an observation.
func (t *checkTaking) seal(b *inventory.Bag, c inventory.Check, source string) error {
	if t.bag.KnowsLater(c.SeenPosition, c.HappenedAt) {
		return nil
	}
	other := c.SealSeen != "" && b.Seal != "" && !inventory.SameSeal(c.SealSeen, b.Seal)
	report := ReportedSeal{At: c.HappenedAt, seen: c.SealSeen, broken: c.SealBroken,
		Opens: c.Kind == inventory.FullCheck, clears: c.Whole(), Set: c.SealSet}
	if err := RecordSeal(t.w, b, report, c.By, source); err != nil {
		return err
	}
	if !other {
		return nil
	}
	_, err := t.w.AddObservation(inventory.Observation{Bag: b.Code, Kind: inventory.SawOtherSeal, Source: source,
		OpenedAt: c.HappenedAt, OpenedBy: c.By, Text: message.M("different seal number")})
	return err
}
