package shift

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// CheckDecision is what a quartermaster decides of a waiting check.
type CheckDecision struct {
	Decision inventory.DecisionKind `json:"decision" enum:"accept,edit,reject"`
	Reason   string                 `json:"reason" doc:"Why; kept with the record"`
	Lines    []inventory.CheckLine  `json:"lines,omitempty" doc:"With edit: the counts"`
	Found    []inventory.FoundLine  `json:"found,omitempty" doc:"For edit"`

	Inspections []inventory.InspectedLine `json:"inspections,omitempty" doc:"With edit: yours; default: the crew's"`
}

// DecideCheck ends the waiting of a check. Accept carries over the differences that the crew saw to what the bag
// holds now; edit replaces its counts by the quartermaster's; reject keeps it without effect. Refuses: Forbidden
// without keep_stock where the bag is; NotFound; Invalid by field, and where a controlled item lacks signatures;
// Conflict where it was decided, the bag is retired, or it cannot be posted. Locks the bag and those that the crew
// took from.
func (s *Service) DecideCheck(ctx context.Context, by inventory.Actor, id int64, in CheckDecision) (inventory.Check,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Check, error) {
		c, b, err := lockedRecord(w, by, inventory.ActKeepStock, w.Check, id, func(c inventory.Check) string { return c.Bag })
		if err != nil {
			return c, err
		}
		if err := mayDecide(c.Status, in.Decision, in.Reason); err != nil {
			return c, err
		}
		c.Decision = &inventory.Decision{Decision: in.Decision, Reason: in.Reason, By: by.Name, RecordedAt: s.now()}
		if in.Decision == inventory.DecideReject {
			c.Status = inventory.StatusRejected
			return c, w.SetCheckOutcome(c)
		}
		t := takingCheck(w, by, s.now(), b, inventory.Actor{Name: c.By, Role: inventory.Crew})
		t.unit.Decided = true
		if c.By == by.Name {
			t.inspector = by
		}
		if t.unit.Accepting, err = saidBy(w, inventory.ReportKey{CheckID: id}); err != nil {
			return c, err
		}
		if in.Decision == inventory.DecideAccept {
			t.says = t.unit.Accepting.Says
		}
		return t.postLate(c, in)
	})
}

// lockedRecord reads a check or use for an action where its bag is, with others kept from changing it.
func lockedRecord[R any](w inventory.Writer, by inventory.Actor, act inventory.Action, read func(id int64) (R, error),
	id int64, bag func(R) string) (rec R, b inventory.Bag, err error) {
	if rec, err = read(id); err != nil {
		return rec, b, err
	}
	if b, err = scope.LockedBag(w, by, bag(rec), act); err != nil {
		return rec, b, err
	}
	rec, err = read(id) // again, now that others wait
	return rec, b, err
}

func mayDecide(status inventory.RecordStatus, d inventory.DecisionKind, reason string) error {
	if status != inventory.StatusToReview {
		return inventory.Refuse(inventory.Conflict, "reviewed already")
	}
	var ps inventory.Problems
	inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
	ps.When(d != inventory.DecideAccept && d != inventory.DecideEdit && d != inventory.DecideReject, "decision",
		"choose one of {1}", "accept, edit, reject")
	return ps.Err()
}

// postLate posts a check that waited.
func (t *checkTaking) postLate(c inventory.Check, in CheckDecision) (inventory.Check, error) {
	if t.bag.Retired() {
		return c, ledger.ErrRetired(message.M("the bag is retired: reject this, or bring it back first"))
	}
	if c.Kind == inventory.SealCheck && in.Decision == inventory.DecideEdit {
		return c, inventory.InvalidField("decision", "a seal check has no counts: accept or reject it")
	}
	work, since := c, map[int64]int(nil)
	var err error
	if in.Decision == inventory.DecideEdit {
		work.Lines, work.Found = normalLines(in.Lines, in.Found)
		work.Inspections = inspectionsOf(c.Inspections, work.Lines)
		if in.Inspections != nil {
			work.Inspections, t.inspector = in.Inspections, t.unit.By
		}
		c.Decision.Counts, c.Decision.Found, c.Decision.Inspections = work.Lines, work.Found, in.Inspections
		if err := inventory.CheckShape(work); err != nil {
			return c, err
		}
		if err := t.lotsExist(work); err != nil {
			return c, err
		}
	} else if since, err = t.w.MovedSince(t.bag.Code, c.SeenPosition); err != nil {
		return c, err
	}
	plan, err := t.plan(work, since)
	if err != nil {
		return c, err
	}
	if plan.waits != nil {
		return c, inventory.Refuse(inventory.Conflict, "cannot be accepted as reported: {1}. Edit or reject it", plan.waits)
	}
	c.Status = inventory.StatusAccepted
	if err := t.w.SetCheckOutcome(c); err != nil {
		return c, err
	}
	return c, t.carryOut(work, plan)
}

// inspectionsOf keeps the inspections of what is counted as there.
func inspectionsOf(all []inventory.InspectedLine, lines []inventory.CheckLine) []inventory.InspectedLine {
	there := inventory.Counted(lines)
	return slices.DeleteFunc(slices.Clone(all), func(in inventory.InspectedLine) bool { return !there[in.LotID] })
}

// UseDecision is what a quartermaster decides of a waiting use.
type UseDecision struct {
	Decision inventory.DecisionKind `json:"decision" enum:"accept,edit,reject"`
	Reason   string                 `json:"reason" doc:"Why; kept with the record"`
	Lines    []inventory.UseLine    `json:"lines,omitempty" doc:"For edit: what was really used"`
}

// DecideUse ends the waiting of a use, and refuses and locks as DecideCheck does: Forbidden, NotFound, Invalid,
// Conflict.
func (s *Service) DecideUse(ctx context.Context, by inventory.Actor, id int64, in UseDecision) (inventory.Use, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Use, error) {
		u, b, err := lockedRecord(w, by, inventory.ActKeepStock, w.Use, id, func(u inventory.Use) string { return u.Bag })
		if err != nil {
			return u, err
		}
		if err := mayDecide(u.Status, in.Decision, in.Reason); err != nil {
			return u, err
		}
		u.Decision = &inventory.Decision{Decision: in.Decision, Reason: in.Reason, By: by.Name, RecordedAt: s.now()}
		if in.Decision == inventory.DecideReject {
			u.Status = inventory.StatusRejected
			return u, w.SetUseOutcome(u)
		}
		t := useTaking{newTaking(w, by, s.now(), b, ledger.TwoSign)}
		t.unit.Decided = true
		if t.unit.Accepting, err = saidBy(w, inventory.ReportKey{UseID: id}); err != nil {
			return u, err
		}
		return t.postLate(u, in)
	})
}

// postLate posts a use that waited.
func (t *useTaking) postLate(u inventory.Use, in UseDecision) (inventory.Use, error) {
	if t.bag.Retired() {
		return u, ledger.ErrRetired(message.M("the bag is retired: reject this, or bring it back first"))
	}
	work := u
	if in.Decision == inventory.DecideEdit {
		work.Lines = normalUse(in.Lines)
		u.Decision.Used = work.Lines
		if err := inventory.UseShape(work); err != nil {
			return u, err
		}
		if err := t.linesExist(work); err != nil {
			return u, err
		}
	}
	ms, waits, err := t.plan(work)
	if err != nil {
		return u, err
	}
	if waits != nil {
		return u, inventory.Refuse(inventory.Conflict, "cannot be accepted as reported: {1}. Edit or reject it", waits)
	}
	u.Status = inventory.StatusAccepted
	if err := t.w.SetUseOutcome(u); err != nil {
		return u, err
	}
	return u, t.carryOut(work, ms)
}

// Checks lists checks, newest first. Refuses: Forbidden without see, and for a bag or station that is not the
// actor's; NotFound for either.
func (s *Service) Checks(ctx context.Context, by inventory.Actor, f inventory.RecordFilter,
	p inventory.Page) ([]inventory.Check, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Check, error) {
		f, err := scope.RecordsSeen(by, r, f)
		if err != nil {
			return nil, err
		}
		return r.Checks(f, p)
	})
}

// Uses lists uses, newest first. Refuses: Forbidden without see, and for a bag or station that is not the actor's;
// NotFound for either.
func (s *Service) Uses(ctx context.Context, by inventory.Actor, f inventory.RecordFilter,
	p inventory.Page) ([]inventory.Use, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Use, error) {
		f, err := scope.RecordsSeen(by, r, f)
		if err != nil {
			return nil, err
		}
		return r.Uses(f, p)
	})
}

// Check returns one check. Refuses: Forbidden without see where its bag is; NotFound.
func (s *Service) Check(ctx context.Context, by inventory.Actor, id int64) (inventory.Check, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Check, error) {
		c, err := r.Check(id)
		if err != nil {
			return c, err
		}
		_, err = scope.BagFor(r, by, c.Bag, inventory.ActSee)
		return c, err
	})
}

// Use returns one use. Refuses: Forbidden without see where its bag is; NotFound.
func (s *Service) Use(ctx context.Context, by inventory.Actor, id int64) (inventory.Use, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Use, error) {
		u, err := r.Use(id)
		if err != nil {
			return u, err
		}
		_, err = scope.BagFor(r, by, u.Bag, inventory.ActSee)
		return u, err
	})
}
