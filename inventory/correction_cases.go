package inventory

import (
	"context"
	"slices"
)

// CorrectLot corrects what was typed of a lot's batch. What stood there before
// is kept with who, when and why, and notices are judged anew: a batch that
// turns out to be meant by one is unusable from then on.
func (s *Service) CorrectLot(ctx context.Context, by Actor, lot int64, in LotCorrection) (BatchCorrection, error) {
	return write(ctx, s, func(w Writer) (BatchCorrection, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return BatchCorrection{}, err
		}
		l, err := w.Lot(lot)
		if err != nil {
			return BatchCorrection{}, err
		}
		if err := hadAtOwnSite(w, by, l.Batch); err != nil {
			return BatchCorrection{}, err
		}
		if err := w.LockItem(l.Item); err != nil {
			return BatchCorrection{}, err
		}
		old, err := w.Batch(l.Batch.ID) // again, now that others wait
		if err != nil {
			return BatchCorrection{}, err
		}
		p := newPoster(w, by, s.Now())
		it, err := p.item(old.Item)
		if err != nil {
			return BatchCorrection{}, err
		}
		today, err := s.todayAnywhere(w, by.sitesSeen())
		if err != nil {
			return BatchCorrection{}, err
		}
		if old.LotNo == "" && old.Serial == "" {
			return BatchCorrection{}, Errorf(Conflict, "these units bear no number: identify them instead")
		}
		now, err := in.applied(old).batch(it, today)
		if err != nil {
			return BatchCorrection{}, err
		}
		return p.correctBatch(old, now, in.Reason)
	})
}

// hadAtOwnSite refuses to correct a batch that was never at a site of the
// actor's.
func hadAtOwnSite(r Reader, by Actor, b Batch) error {
	sites := by.sitesSeen()
	if len(sites) == 0 {
		return nil
	}
	ms, err := r.Movements(MovementFilter{Batch: b.ID, Sites: sites}, Page{Limit: 1})
	if err == nil && len(ms) == 0 {
		return errNotYours()
	}
	return err
}

// correctBatch stores what is printed on a batch anew, keeps the correction,
// and judges the notices on the item anew.
func (p *poster) correctBatch(old, now Batch, reason string) (BatchCorrection, error) {
	c := BatchCorrection{BatchID: old.ID, At: p.now, By: p.by.Name, Reason: reason, Old: old.facts(), New: now.facts()}
	var ps problems
	checkText(&ps, "reason", reason, true, MaxNote)
	ps.when(c.Old == c.New, "reason", "nothing differs from what is recorded")
	if err := ps.err(); err != nil {
		return c, err
	}
	all, err := p.w.Batches(old.Item)
	if err != nil {
		return c, err
	}
	same := func(b Batch) bool {
		return b.ID != old.ID && now.Serial != "" && foldNumber(b.Serial) == foldNumber(now.Serial)
	}
	if slices.ContainsFunc(all, same) {
		return c, errReceived()
	}
	now.ID = old.ID
	if c, err = p.w.CorrectBatch(now, c); err != nil {
		return c, err
	}
	return c, applyNotices(p.w, old.Item)
}

// OnConflict says what a receipt does where the same batch was received with
// another date.
type OnConflict string

// The two ways out.
const (
	KeepEarlier    OnConflict = "keep"    // the earlier record is right, the date here was misread
	CorrectEarlier OnConflict = "correct" // the earlier record is wrong, and is corrected
)

// settle brings a batch and the earlier record of it into agreement as the
// receipt asks, and returns the batch as it is from then on.
func (p *poster) settle(in Receipt, b Batch) (Batch, error) {
	if in.OnConflict == "" || b.Serial != "" || in.Unidentified {
		return b, nil
	}
	if err := p.w.LockItem(b.Item); err != nil {
		return b, err
	}
	b, err := p.ofProduct(b)
	if err != nil {
		return b, err
	}
	old, err := p.w.FindBatch(b.Item, b.Product, b.LotNo, "")
	if KindOf(err) == NotFound && err != nil {
		return b, nil
	}
	if err != nil || old.facts() == b.facts() {
		return b, err
	}
	if in.OnConflict == KeepEarlier {
		return old, nil
	}
	_, err = p.correctBatch(old, b, in.CorrectionReason)
	return b, renamed(err, "reason", "correction_reason")
}

// renamed gives a wrong field the name that it has in another request.
func renamed(err error, from, to string) error {
	if KindOf(err) != Invalid || err == nil {
		return err
	}
	var ps problems
	ps.take("", err)
	for i := range ps {
		if ps[i].Path == from {
			ps[i].Path = to
		}
	}
	return ps.err()
}
