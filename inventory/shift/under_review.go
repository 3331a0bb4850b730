package shift

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// wait keeps a check for the quartermaster, and what it says of bags. A device that is a training device by its serial
// number is one, marked or not.
func (t *checkTaking) wait(c inventory.Check, key string, because message.Message) (inventory.Check, error) {
	c.Status, c.ReviewBecause = inventory.StatusToReview, because
	for i, f := range c.Found {
		_, training, err := t.trainingDevice(f)
		if err != nil {
			return c, err
		}
		if training {
			c.Found[i].Reason = inventory.FoundTrainingMark
		}
	}
	c, err := t.w.AddCheck(c, key)
	if err != nil {
		return c, err
	}
	held, err := t.held(takenFrom(c))
	if err != nil {
		return c, err
	}
	since, err := t.w.MovedSince(c.Bag, c.SeenPosition)
	if err != nil {
		return c, err
	}
	items := map[int64]inventory.Item{}
	for _, in := range c.Inspections {
		lot, err := t.unit.Lot(in.LotID)
		if err != nil {
			return c, err
		}
		if items[in.LotID], err = t.unit.Item(lot.Item); err != nil {
			return c, err
		}
	}
	return c, keepSays(t.w, c.Says(t.bag, held, since, items), inventory.UnderReview{
		ReportKey: inventory.ReportKey{CheckID: c.ID}, HappenedAt: c.HappenedAt, RecordedAt: c.RecordedAt})
}

// wait keeps a use for the quartermaster, and what it says of bags.
func (t *useTaking) wait(u inventory.Use, key string, because message.Message) (inventory.Use, error) {
	u.Status, u.ReviewBecause = inventory.StatusToReview, because
	u, err := t.w.AddUse(u, key)
	if err != nil {
		return u, err
	}
	held, err := t.held(usedFrom(u))
	if err != nil {
		return u, err
	}
	return u, keepSays(t.w, u.Says(t.bag, held), inventory.UnderReview{ReportKey: inventory.ReportKey{UseID: u.ID},
		HappenedAt: u.HappenedAt, RecordedAt: u.RecordedAt})
}

// keepSays keeps what a report says, settled as far as a full check performed later was accepted before it came.
func keepSays(w inventory.Writer, says []inventory.Reported, u inventory.UnderReview) error {
	later := map[string][]inventory.Check{}
	for i, r := range says {
		if _, known := later[r.Place]; !known {
			var err error
			if later[r.Place], err = w.Checks(inventory.RecordFilter{Bag: r.Place, Status: inventory.StatusAccepted,
				Since: u.HappenedAt}, inventory.Page{}); err != nil {
				return err
			}
		}
		says[i].ReportKey = u.ReportKey
		if slices.ContainsFunc(later[r.Place], func(c inventory.Check) bool { return c.Settles(u, r) }) {
			says[i] = says[i].Settle()
		}
	}
	return w.AddReported(says)
}

// saidBy returns a report that is to review, with what it says.
func saidBy(r inventory.Reader, of inventory.ReportKey) (inventory.UnderReview, error) {
	reports, err := r.UnderReview(inventory.UnderReviewFilter{Of: of})
	if err != nil || len(reports) == 0 {
		return inventory.UnderReview{ReportKey: of}, err
	}
	return reports[0], nil
}

// settled tells whether a failed device that the check reports has been seen to.
func (t *checkTaking) settled(lot int64) bool {
	return slices.ContainsFunc(t.says, func(r inventory.Reported) bool { return r.LotID == lot && r.Over() })
}

// stillReported words the reports that a seal check leaves as they are.
func (t *checkTaking) stillReported() ([]inventory.UnderReview, error) {
	reports, err := t.w.UnderReview(inventory.UnderReviewFilter{Places: []string{t.bag.Code}})
	if err != nil || len(reports) == 0 {
		return nil, err
	}
	station, err := t.unit.Station(t.bag.AtStation)
	return inventory.WordReports(reports, station), err
}

// WithdrawCheck takes back a check that its own crew sent by mistake, as long as it is to review: it is kept, and
// counts for nothing. Refuses: Forbidden without check where the bag is; NotFound; Invalid for the reason; Conflict
// for what somebody else recorded, and where it was decided. Locks the bag.
func (s *Service) WithdrawCheck(ctx context.Context, by inventory.Actor, id int64, reason string) (inventory.Check,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Check, error) {
		c, _, err := lockedRecord(w, by, inventory.ActCheck, w.Check, id, func(c inventory.Check) string { return c.Bag })
		if err != nil {
			return c, err
		}
		if c.Decision, err = s.withdrawal(by, c.By, c.Status, reason); err != nil {
			return c, err
		}
		c.Status = inventory.StatusWithdrawn
		return c, w.SetCheckOutcome(c)
	})
}

// WithdrawUse takes back a use as WithdrawCheck does a check, and refuses and locks as that does: Forbidden, NotFound,
// Invalid, Conflict.
func (s *Service) WithdrawUse(ctx context.Context, by inventory.Actor, id int64, reason string) (inventory.Use, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Use, error) {
		u, _, err := lockedRecord(w, by, inventory.ActCheck, w.Use, id, func(u inventory.Use) string { return u.Bag })
		if err != nil {
			return u, err
		}
		if u.Decision, err = s.withdrawal(by, u.By, u.Status, reason); err != nil {
			return u, err
		}
		u.Status = inventory.StatusWithdrawn
		return u, w.SetUseOutcome(u)
	})
}

func (s *Service) withdrawal(by inventory.Actor, made string, status inventory.RecordStatus,
	reason string) (*inventory.Decision, error) {
	var ps inventory.Problems
	inventory.CheckText(&ps, "reason", reason, false, inventory.MaxNote)
	return &inventory.Decision{Decision: inventory.DecideWithdraw, Reason: cmp.Or(reason, "sent by mistake"), By: by.Name,
		RecordedAt: s.now()}, cmp.Or(inventory.MayWithdraw(by, made, status), ps.Err())
}
