package shift

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/scope"
)

// ReportedSeal is what one check, use or restock says of a bag's seal.
type ReportedSeal struct {
	At     inventory.Instant
	seen   string // number seen, empty for not looked at
	broken bool   // seen broken or gone
	Opens  bool   // the bag was opened
	clears bool   // a full check or use: what was wrong with the seal is settled
	Set    string // number of the new seal, empty for none
	note   string
}

// afterSeal returns what is known of a bag's seal after a report, and the
// entries for its log in order. The entries lack bag, person and source.
func afterSeal(r inventory.BagRecord, in ReportedSeal) (inventory.BagRecord, []inventory.SealEntry) {
	var log []inventory.SealEntry
	entry := func(e inventory.SealEvent, number string) {
		log = append(log, inventory.SealEntry{HappenedAt: in.At, Event: e, Number: number, Expected: r.Seal, Note: in.note})
	}
	switch {
	case in.broken:
		entry(inventory.SealSeenBroken, "")
		r.SealState = inventory.SealBroken
	case in.seen != "" && !inventory.SameSeal(in.seen, r.Seal):
		entry(inventory.SealSeenOther, in.seen)
		if r.Seal != "" { // else none was expected, so none is wrong
			r.SealState = inventory.SealDifferent
		}
	case in.seen != "":
		entry(inventory.SealSeen, in.seen)
		r.SealSeenAt = max(r.SealSeenAt, in.At)
	}
	if in.Opens && r.Seal != "" {
		entry(inventory.SealOpened, r.Seal)
		r.Seal = ""
	}
	if in.clears || in.Opens && r.SealState == inventory.SealIntact {
		r.SealState = inventory.SealNone
	}
	if in.Set != "" {
		entry(inventory.SealWasSet, in.Set)
		r.Seal, r.SealSeenAt = in.Set, in.At
		if r.SealState == inventory.SealNone {
			r.SealState = inventory.SealIntact
		}
	}
	return r, log
}

// RecordSeal writes a report of a bag's seal.
func RecordSeal(w inventory.Writer, b *inventory.Bag, in ReportedSeal, by, source string) error {
	var log []inventory.SealEntry
	b.BagRecord, log = afterSeal(b.BagRecord, in)
	for _, e := range log {
		e.Bag, e.By, e.Source = b.Code, by, source
		if err := w.AddSeal(e); err != nil {
			return err
		}
	}
	return nil
}

// SealReport is what somebody says of a bag's seal alone: that it was opened and sealed again without a restock, or
// that a temporary seal went on after a use.
type SealReport struct {
	SealSeen   string            `json:"seal_seen,omitempty" maxLength:"40" doc:"Number on the seal as found"`
	SealBroken bool              `json:"seal_broken,omitempty" doc:"The seal was broken or gone"`
	Opened     bool              `json:"opened,omitempty" doc:"The bag was opened"`
	SealSet    string            `json:"seal_set,omitempty" maxLength:"40" doc:"Number of the new seal"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Note       string            `json:"note,omitempty" maxLength:"2000" doc:"Why, or that it is temporary"`
}

// check refuses a report that says nothing, or a new seal on a sealed bag that was not opened.
func (in SealReport) check(b inventory.Bag) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "seal_seen", in.SealSeen, false, 40)
	inventory.CheckText(&ps, "seal_set", in.SealSet, false, 40)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	ps.When(in.SealSeen == "" && !in.SealBroken && !in.Opened && in.SealSet == "", "seal_set", "choose what happened")
	ps.When(in.SealSet != "" && b.Seal != "" && !in.Opened && !in.SealBroken, "opened",
		"report the bag as opened: it has a seal")
	return ps.Err()
}

// ReportSeal records what happened to a bag's seal without a check, a use or a restock. It settles nothing: a seal
// that was found broken or different stays so until a full check or a use. Refuses: Forbidden without check where
// the bag is; NotFound; Invalid by field; Conflict where something later is known of the seal. Locks the bag.
func (s *Service) ReportSeal(ctx context.Context, by inventory.Actor, code string, in SealReport) (inventory.Bag,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Bag, error) {
		b, err := scope.LockedBag(w, by, code, inventory.ActCheck)
		if err != nil {
			return b, err
		}
		if err := in.check(b); err != nil {
			return b, err
		}
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, s.now(), "happened_at"); err != nil {
			return b, err
		}
		if b.KnownAfter(in.HappenedAt) {
			return b, inventory.Refuse(inventory.Conflict, "a later seal record exists")
		}
		report := ReportedSeal{At: in.HappenedAt, seen: in.SealSeen, broken: in.SealBroken, Opens: in.Opened ||
			in.SealBroken && in.SealSet != "", Set: in.SealSet, note: in.Note}
		if err := RecordSeal(w, &b, report, by.Name, "report"); err != nil {
			return b, err
		}
		if err := w.SetBagRecord(b.Code, b.BagRecord); err != nil {
			return b, err
		}
		if in.SealSet != "" {
			if err := ledger.NewUnit(w, by, s.now(), ledger.TwoSign).Settle(b.Code, inventory.Resealed); err != nil {
				return b, err
			}
		}
		return w.Bag(b.Code)
	})
}
