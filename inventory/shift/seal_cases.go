package shift

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// SealReport is what somebody says of a bag's seal alone: that it was opened
// and sealed again without a restock, or that a temporary seal went on after a
// use.
type SealReport struct {
	SealSeen   string            `json:"seal_seen,omitempty" maxLength:"40" doc:"Number on the seal as found"`
	SealBroken bool              `json:"seal_broken,omitempty" doc:"The seal was broken or gone"`
	Opened     bool              `json:"opened,omitempty" doc:"The bag was opened"`
	SealSet    string            `json:"seal_set,omitempty" maxLength:"40" doc:"Number of the new seal"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Now if left out"`
	Note       string            `json:"note,omitempty" maxLength:"2000" doc:"Why it was opened, or that the seal is a temporary one"`
}

// check refuses a report that says nothing, or a new seal on a sealed bag that
// was not opened.
func (in SealReport) check(b inventory.Bag) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "seal_seen", in.SealSeen, false, 40)
	inventory.CheckText(&ps, "seal_set", in.SealSet, false, 40)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	ps.When(in.SealSeen == "" && !in.SealBroken && !in.Opened && in.SealSet == "", "seal_set",
		"say what happened: seen, broken, opened, or the number of the new seal")
	ps.When(in.SealSet != "" && b.Seal != "" && !in.Opened && !in.SealBroken, "opened",
		"say that the bag was opened: it has a seal already")
	return ps.Err()
}

// ReportSeal records what happened to a bag's seal without a check, a use or a
// restock. It settles nothing: a seal that was found broken or different stays
// so until a full check or a use.
func (s *Service) ReportSeal(ctx context.Context, by inventory.Actor, code string, in SealReport) (inventory.Bag,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Bag, error) {
		b, err := LockedBag(w, by, code, inventory.ActCheck)
		if err != nil {
			return b, err
		}
		if err := in.check(b); err != nil {
			return b, err
		}
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, s.now(), "happened_at"); err != nil {
			return b, err
		}
		if max(b.SealSeenAt, b.LastFullCheck, b.LastUse, b.LastRestock) > in.HappenedAt {
			return b, inventory.Errorf(inventory.Conflict, "something later than this is known of the seal")
		}
		report := ReportedSeal{At: in.HappenedAt, seen: in.SealSeen, broken: in.SealBroken, Opens: in.Opened ||
			in.SealBroken && in.SealSet != "", Set: in.SealSet, note: in.Note}
		if err := RecordSeal(w, &b, report, by.Name, "report"); err != nil {
			return b, err
		}
		if err := w.SetBagRecord(b.Code, b.BagRecord); err != nil {
			return b, err
		}
		return w.Bag(b.Code)
	})
}
