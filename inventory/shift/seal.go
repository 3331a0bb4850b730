package shift

import (
	"stowkeeper/inventory"
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
