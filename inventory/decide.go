package inventory

import (
	"context"
	"slices"
)

// CheckDecision is what a quartermaster decides of a waiting check.
type CheckDecision struct {
	Decision DecisionKind `json:"decision" enum:"post,adjust,dismiss"`
	Reason   string       `json:"reason" doc:"Why; kept with the record"`
	Lines    []CheckLine  `json:"lines,omitempty" doc:"For adjust: the counts, judged against what the ledger holds now"`
	Found    []FoundLine  `json:"found,omitempty" doc:"For adjust"`

	Inspections []InspectedLine `json:"inspections,omitempty" doc:"For adjust: your own inspections; the crew's, of what you count as there, if left out"`
}

// DecideCheck ends the waiting of a check. Post carries over the differences
// that the crew saw to what the bag holds now; adjust replaces its counts by
// the quartermaster's; dismiss keeps it without effect.
func (s *Service) DecideCheck(ctx context.Context, by Actor, id int64, in CheckDecision) (Check, error) {
	return write(ctx, s, func(w Writer) (Check, error) {
		c, err := w.Check(id)
		if err != nil {
			return c, err
		}
		b, err := lockedBag(w, by, c.Bag, ActKeepStock)
		if err != nil {
			return c, err
		}
		if c, err = w.Check(id); err != nil { // again, now that others wait
			return c, err
		}
		if err := mayDecide(c.Status, in.Decision, in.Reason); err != nil {
			return c, err
		}
		c.Decision = &Decision{Decision: in.Decision, Reason: in.Reason, By: by.Name, At: s.Now()}
		if in.Decision == DecideDismiss {
			c.Status = StatusDismissed
			return c, w.SetCheckOutcome(c)
		}
		t := checkTaking{w: w, poster: newPoster(w, by, s.Now()), bag: b, inspector: Actor{Name: c.By, Role: Crew}}
		if c.By == by.Name {
			t.inspector = by
		}
		return t.postLate(c, in)
	})
}

func mayDecide(status RecordStatus, d DecisionKind, reason string) error {
	if status != StatusWaiting {
		return Errorf(Conflict, "this has been decided already")
	}
	var ps problems
	checkText(&ps, "reason", reason, true, MaxNote)
	ps.when(d != DecidePost && d != DecideAdjust && d != DecideDismiss, "decision", "choose post, adjust or dismiss")
	return ps.err()
}

// postLate posts a check that waited.
func (t *checkTaking) postLate(c Check, in CheckDecision) (Check, error) {
	if t.bag.Retired() {
		return c, errRetired("dismiss the check, or bring the bag back first")
	}
	if c.Kind == SealCheck && in.Decision == DecideAdjust {
		return c, Invalidf("decision", "a seal check counts nothing: post or dismiss it")
	}
	work, since := c, map[int64]int(nil)
	var err error
	if in.Decision == DecideAdjust {
		work.Lines, work.Found = MergeCounts(in.Lines), in.Found
		work.Inspections = inspectionsOf(c.Inspections, work.Lines)
		if in.Inspections != nil {
			work.Inspections, t.inspector = in.Inspections, t.poster.by
		}
		c.Decision.Counts, c.Decision.Found, c.Decision.Inspections = work.Lines, work.Found, in.Inspections
		if err := checkShape(work); err != nil {
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
	if plan.waits != "" {
		return c, Errorf(Conflict, "it cannot be posted as it is: %s; adjust or dismiss it", plan.waits)
	}
	c.Status = StatusPosted
	if err := t.w.SetCheckOutcome(c); err != nil {
		return c, err
	}
	return c, t.carryOut(work, plan)
}

// inspectionsOf keeps the inspections of what is counted as there.
func inspectionsOf(all []InspectedLine, lines []CheckLine) []InspectedLine {
	there := counted(lines)
	return slices.DeleteFunc(slices.Clone(all), func(in InspectedLine) bool { return !there[in.LotID] })
}

// UseDecision is what a quartermaster decides of a waiting use.
type UseDecision struct {
	Decision DecisionKind `json:"decision" enum:"post,adjust,dismiss"`
	Reason   string       `json:"reason" doc:"Why; kept with the record"`
	Lines    []UseLine    `json:"lines,omitempty" doc:"For adjust: what was really used"`
}

// DecideUse ends the waiting of a use, as DecideCheck does for a check.
func (s *Service) DecideUse(ctx context.Context, by Actor, id int64, in UseDecision) (Use, error) {
	return write(ctx, s, func(w Writer) (Use, error) {
		u, err := w.Use(id)
		if err != nil {
			return u, err
		}
		b, err := lockedBag(w, by, u.Bag, ActKeepStock)
		if err != nil {
			return u, err
		}
		if u, err = w.Use(id); err != nil { // again, now that others wait
			return u, err
		}
		if err := mayDecide(u.Status, in.Decision, in.Reason); err != nil {
			return u, err
		}
		u.Decision = &Decision{Decision: in.Decision, Reason: in.Reason, By: by.Name, At: s.Now()}
		if in.Decision == DecideDismiss {
			u.Status = StatusDismissed
			return u, w.SetUseOutcome(u)
		}
		t := useTaking{w: w, poster: newPoster(w, by, s.Now()), bag: b}
		return t.postLate(u, in)
	})
}

// postLate posts a use that waited.
func (t *useTaking) postLate(u Use, in UseDecision) (Use, error) {
	if t.bag.Retired() {
		return u, errRetired("dismiss the use, or bring the bag back first")
	}
	work := u
	if in.Decision == DecideAdjust {
		work.Lines = normalUse(in.Lines)
		u.Decision.Used = work.Lines
		if err := useShape(work); err != nil {
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
	if waits != "" {
		return u, Errorf(Conflict, "it cannot be posted as it is: %s; adjust or dismiss it", waits)
	}
	u.Status = StatusPosted
	if err := t.w.SetUseOutcome(u); err != nil {
		return u, err
	}
	return u, t.carryOut(work, ms)
}

// Checks lists checks, newest first.
func (s *Service) Checks(ctx context.Context, by Actor, f RecordFilter, p Page) ([]Check, error) {
	return read(ctx, s, func(r Reader) ([]Check, error) {
		f, err := by.recordsSeen(r, f)
		if err != nil {
			return nil, err
		}
		return r.Checks(f, p)
	})
}

// Uses lists uses, newest first.
func (s *Service) Uses(ctx context.Context, by Actor, f RecordFilter, p Page) ([]Use, error) {
	return read(ctx, s, func(r Reader) ([]Use, error) {
		f, err := by.recordsSeen(r, f)
		if err != nil {
			return nil, err
		}
		return r.Uses(f, p)
	})
}

// recordsSeen keeps a filter on records within what the actor may see.
func (a Actor) recordsSeen(r Reader, f RecordFilter) (RecordFilter, error) {
	if f.Bag != "" {
		b, err := bagFor(r, a, f.Bag, ActSee)
		f.Bag = b.Code
		return f, err
	}
	if err := a.must(ActSee, ""); err != nil {
		return f, err
	}
	sites, err := a.narrowed(r, f.AtSites)
	f.AtSites = sites
	return f, err
}

// Check returns one check.
func (s *Service) Check(ctx context.Context, by Actor, id int64) (Check, error) {
	return read(ctx, s, func(r Reader) (Check, error) {
		c, err := r.Check(id)
		if err != nil {
			return c, err
		}
		_, err = bagFor(r, by, c.Bag, ActSee)
		return c, err
	})
}

// Use returns one use.
func (s *Service) Use(ctx context.Context, by Actor, id int64) (Use, error) {
	return read(ctx, s, func(r Reader) (Use, error) {
		u, err := r.Use(id)
		if err != nil {
			return u, err
		}
		_, err = bagFor(r, by, u.Bag, ActSee)
		return u, err
	})
}
