package shift

import (
	"cmp"
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// claimed returns whose a record is, and who sent it where that is only said: a phone without signal knows its people
// by name alone.
func claimed(by inventory.Actor, said string) (made, sentBy string) {
	if said == "" || said == by.Name || by.Program {
		return by.Name, ""
	}
	return said, by.Name
}

// keyOf is the key under which a record is kept: of whose it is said to be, so that it counts once whoever sends it.
func keyOf(by inventory.Actor, made, key string) string {
	if made != by.Name {
		by = inventory.Actor{Name: made, Role: inventory.Crew}
	}
	return by.RecordKey(key)
}

// Said is what waits and is said to be a person's, newest first.
type Said struct {
	Checks []inventory.Check
	Uses   []inventory.Use
}

// Len is how many records that are.
func (x Said) Len() int { return len(x.Checks) + len(x.Uses) }

// SaidToBe lists what waits at the actor's stations and is said to be theirs. Refuses: Forbidden without check.
func (s *Service) SaidToBe(ctx context.Context, by inventory.Actor) (Said, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActCheck, func(r inventory.Reader) (x Said, err error) {
		f := inventory.RecordFilter{By: by.Name, Status: inventory.StatusToReview, Claimed: true, AtStations: by.Stations}
		if by.Name == "" {
			return x, nil
		}
		checks, err := r.Checks(f, inventory.Page{})
		if err != nil {
			return x, err
		}
		x.Checks = checks
		x.Uses, err = r.Uses(f, inventory.Page{})
		return x, err
	})
}

// ConfirmCheck makes a check its actor's own that was said to be so. It is posted then, unless something else is in
// the way: that stays to review. Refuses: Forbidden without check where the bag is; NotFound; Conflict where it is not
// said to be the actor's. Locks the bag and those that the crew took from.
func (s *Service) ConfirmCheck(ctx context.Context, by inventory.Actor, id int64) (inventory.Check, error) {
	confirm := func(post bool) (inventory.Check, error) {
		return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Check, error) {
			c, b, err := lockedRecord(w, by, inventory.ActCheck, w.Check, id, func(c inventory.Check) string { return c.Bag })
			if err = cmp.Or(err, inventory.MayConfirm(by, c.By, c.SentBy)); err != nil {
				return c, err
			}
			alone := c.ReviewBecause.String() == inventory.SaidToBe(c.By).String()
			if err := s.ownNow(w, by, b, inventory.HistoryCheckDecided); err != nil {
				return c, err
			}
			if c.SentBy = ""; !post || !alone || c.Status != inventory.StatusToReview {
				return c, w.SetCheckOutcome(c)
			}
			t := takingCheck(w, by, s.now(), b, by)
			t.unit.Decided = true
			if t.unit.Accepting, err = saidBy(w, inventory.ReportKey{CheckID: id}); err != nil {
				return c, err
			}
			t.says = t.unit.Accepting.Says
			return t.postLate(c, CheckDecision{Decision: inventory.DecideAccept})
		})
	}
	return firstOrPlain(confirm)
}

// ConfirmUse does for a use what ConfirmCheck does for a check, and refuses and locks as that does: Forbidden,
// NotFound, Conflict.
func (s *Service) ConfirmUse(ctx context.Context, by inventory.Actor, id int64) (inventory.Use, error) {
	confirm := func(post bool) (inventory.Use, error) {
		return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Use, error) {
			u, b, err := lockedRecord(w, by, inventory.ActCheck, w.Use, id, func(u inventory.Use) string { return u.Bag })
			if err = cmp.Or(err, inventory.MayConfirm(by, u.By, u.SentBy)); err != nil {
				return u, err
			}
			alone := u.ReviewBecause.String() == inventory.SaidToBe(u.By).String()
			if err := s.ownNow(w, by, b, inventory.HistoryUseDecided); err != nil {
				return u, err
			}
			if u.SentBy = ""; !post || !alone || u.Status != inventory.StatusToReview {
				return u, w.SetUseOutcome(u)
			}
			t := useTaking{newTaking(w, by, s.now(), b, ledger.AloneUses)}
			t.unit.Decided = true
			if t.unit.Accepting, err = saidBy(w, inventory.ReportKey{UseID: id}); err != nil {
				return u, err
			}
			return t.postLate(u, UseDecision{Decision: inventory.DecideAccept})
		})
	}
	return firstOrPlain(confirm)
}

// firstOrPlain confirms a record and posts it; where that cannot be, it waits on for the quartermaster, as its own.
func firstOrPlain[R any](confirm func(post bool) (R, error)) (R, error) {
	x, err := confirm(true)
	if k := inventory.KindOf(err); err != nil && (k == inventory.Conflict || k == inventory.Invalid) {
		return confirm(false)
	}
	return x, err
}

// ownNow tells the history that a record is its person's own.
func (s *Service) ownNow(w inventory.Writer, by inventory.Actor, b inventory.Bag, kind inventory.HistoryKind) error {
	return w.AddHistory([]inventory.HistoryEntry{{RecordedAt: s.now(), By: by.Name, Kind: kind, Station: b.AtStation,
		Place: b.Code, Detail: "confirmed"}})
}
