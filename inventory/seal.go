package inventory

import "strings"

// sealReport is what one check, use or restock says of a bag's seal.
type sealReport struct {
	at     Instant
	seen   string // number seen, empty for not looked at
	broken bool   // seen broken or gone
	opens  bool   // the bag was opened
	clears bool   // a full check or use: what was wrong with the seal is settled
	set    string // number of the new seal, empty for none
}

// afterSeal returns what is known of a bag's seal after a report, and the
// entries for its log in order. The entries lack bag, person and source.
func afterSeal(r BagRecord, in sealReport) (BagRecord, []SealEntry) {
	var log []SealEntry
	entry := func(e SealEvent, number string) {
		log = append(log, SealEntry{At: in.at, Event: e, Number: number, Expected: r.Seal})
	}
	switch {
	case in.broken:
		entry(SealSeenBroken, "")
		r.SealState = SealBroken
	case in.seen != "" && !sameSeal(in.seen, r.Seal):
		entry(SealSeenOther, in.seen)
		if r.Seal != "" { // else none was expected, so none is wrong
			r.SealState = SealDifferent
		}
	case in.seen != "":
		entry(SealSeen, in.seen)
		r.SealSeenAt = max(r.SealSeenAt, in.at)
	}
	if in.opens && r.Seal != "" {
		entry(SealOpened, r.Seal)
		r.Seal = ""
	}
	if in.clears || in.opens && r.SealState == SealIntact {
		r.SealState = SealNone
	}
	if in.set != "" {
		entry(SealWasSet, in.set)
		r.Seal, r.SealSeenAt = in.set, in.at
		if r.SealState == SealNone {
			r.SealState = SealIntact
		}
	}
	return r, log
}

// knowsLater tells whether something later is known of a bag's seal than a
// report made at an instant by somebody who saw a position: it was set or seen
// since, or the bag changed and was opened since.
func (r BagRecord) knowsLater(seen int64, at Instant) bool {
	opened := max(r.LastFullCheck, r.LastUse, r.LastRestock)
	return r.SealSeenAt > at || seen != r.Position && opened > at
}

// sameSeal compares seal numbers as people read them: case and blanks apart.
func sameSeal(a, b string) bool {
	fold := func(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }
	return fold(a) == fold(b)
}

// recordSeal writes a report of a bag's seal.
func recordSeal(w Writer, b *Bag, in sealReport, by, source string) error {
	var log []SealEntry
	b.BagRecord, log = afterSeal(b.BagRecord, in)
	for _, e := range log {
		e.Bag, e.By, e.Source = b.Code, by, source
		if err := w.AddSeal(e); err != nil {
			return err
		}
	}
	return nil
}
