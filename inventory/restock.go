package inventory

import (
	"context"
	"strconv"
)

// RecordRestock books what was put into a bag and taken out, and its new seal.
// It is made at a desk: what no longer fits is a conflict. seenPosition, where
// it is above zero, is the position of the pick list.
func (s *Service) RecordRestock(ctx context.Context, by Actor, in Restock, seenPosition int64) (Restock, error) {
	return write(ctx, s, func(w Writer) (Restock, error) {
		b, err := lockedBag(w, by, in.Bag, ActKeepStock)
		if err != nil {
			return in, err
		}
		if b.Retired() {
			return in, errRetired("it takes no restock")
		}
		if seenPosition > 0 && seenPosition != b.Position {
			return in, Errorf(Stale, "the bag changed after the pick list was made; make it again")
		}
		in.Bag, in.By, in.At = b.Code, by.Name, s.Now()
		if err := restockShape(in); err != nil {
			return in, err
		}
		p := newPoster(w, by, in.At)
		site, err := p.site(b.AtSite)
		if err != nil {
			return in, err
		}
		if err := p.postRestock(&in, site); err != nil {
			return in, err
		}
		if in, err = w.AddRestock(in); err != nil {
			return in, err
		}
		return in, noteRestock(w, in)
	})
}

func restockShape(in Restock) error {
	var ps problems
	checkText(&ps, "seal_set", in.SealSet, false, 40)
	checkText(&ps, "note", in.Note, false, MaxNote)
	ps.when(len(in.Lines)+len(in.TakeOut) == 0 && in.SealSet == "", "lines", "give what went in or came out, or the new seal")
	ps.when(len(in.Lines)+len(in.TakeOut) > 2000, "lines", "give at most 2000 lines")
	return ps.err()
}

// postRestock takes out first, so that the place that units leave is free
// again for what comes in.
func (p *poster) postRestock(in *Restock, site Site) error {
	out := make([]Movement, 0, len(in.TakeOut))
	for i, l := range in.TakeOut {
		l.To = placeCode(l.To)
		in.TakeOut[i] = l
		out = append(out, Movement{LotID: l.LotID, Qty: l.Qty, From: in.Bag, To: l.To, Reason: l.Reason, Cause: l.Cause})
		if err := p.atOwnSite(l.To); err != nil {
			return under(known(err, "to", "place"), "take_out["+strconv.Itoa(i)+"]")
		}
	}
	if _, err := p.post(out, "take_out"); err != nil {
		return err
	}
	into := make([]Movement, 0, len(in.Lines))
	for i, l := range in.Lines {
		if l.From == "" {
			l.From = site.StoreCode()
		}
		l.From = placeCode(l.From)
		in.Lines[i] = l
		path := "lines[" + strconv.Itoa(i) + "]"
		if err := p.atOwnSite(l.From); err != nil {
			return under(known(err, "from", "place"), path)
		}
		from, err := p.place(l.From)
		if err != nil {
			return under(known(err, "from", "place"), path)
		}
		if from.Outside() {
			return Invalidf(path+".from", "name a store, bag or carrier")
		}
		into = append(into, Movement{LotID: l.LotID, Qty: l.Qty, From: l.From, To: in.Bag, Reason: stowReason(from.Kind)})
	}
	_, err := p.post(into, "lines")
	return err
}

// stowReason is the reason with which units from a kind of place come into a
// bag.
func stowReason(from PlaceKind) Reason {
	switch from {
	case KindBag:
		return ReasonTransfer
	case KindAway:
		return ReasonReturn
	}
	return ReasonStow
}

// atOwnSite refuses places at sites that are not the actor's.
func (p *poster) atOwnSite(code string) error {
	pl, err := p.place(code)
	if err != nil {
		return err
	}
	return p.may(ActKeepStock, pl)
}

// noteRestock records the seal and the time of a restock on its bag.
func noteRestock(w Writer, in Restock) error {
	b, err := w.Bag(in.Bag)
	if err != nil {
		return err
	}
	report := sealReport{at: in.At, opens: true, set: in.SealSet}
	if err := recordSeal(w, &b, report, in.By, "restock "+strconv.FormatInt(in.ID, 10)); err != nil {
		return err
	}
	b.LastRestock = in.At
	return w.SetBagRecord(b.Code, b.BagRecord)
}

// Restocks lists the restocks of a bag, newest first.
func (s *Service) Restocks(ctx context.Context, by Actor, code string, p Page) ([]Restock, error) {
	return read(ctx, s, func(r Reader) ([]Restock, error) {
		b, err := bagFor(r, by, code, ActSee)
		if err != nil {
			return nil, err
		}
		return r.Restocks(b.Code, p)
	})
}

// Seals lists the log of a bag's seals, newest first.
func (s *Service) Seals(ctx context.Context, by Actor, code string, p Page) ([]SealEntry, error) {
	return read(ctx, s, func(r Reader) ([]SealEntry, error) {
		b, err := bagFor(r, by, code, ActSee)
		if err != nil {
			return nil, err
		}
		return r.Seals(b.Code, p)
	})
}

// Observations lists observations at the actor's sites.
func (s *Service) Observations(ctx context.Context, by Actor, f ObservationFilter) ([]Observation, error) {
	return read(ctx, s, func(r Reader) ([]Observation, error) {
		rf, err := by.recordsSeen(r, RecordFilter{Bag: f.Bag, AtSites: f.AtSites})
		if err != nil {
			return nil, err
		}
		f.Bag, f.AtSites = rf.Bag, rf.AtSites
		return r.Observations(f)
	})
}

// CloseObservation ends an observation with a reason.
func (s *Service) CloseObservation(ctx context.Context, by Actor, bag string, id int64, reason string) (Observation, error) {
	return write(ctx, s, func(w Writer) (Observation, error) {
		b, err := lockedBag(w, by, bag, ActKeepStock)
		if err != nil {
			return Observation{}, err
		}
		var ps problems
		checkText(&ps, "reason", reason, true, MaxNote)
		if err := ps.err(); err != nil {
			return Observation{}, err
		}
		open, err := w.Observations(ObservationFilter{Bag: b.Code, Open: true})
		if err != nil {
			return Observation{}, err
		}
		for _, o := range open {
			if o.ID == id {
				o.ClosedAt, o.ClosedBy, o.CloseReason = s.Now(), by.Name, reason
				return o, w.CloseObservation(o)
			}
		}
		return Observation{}, Errorf(NotFound, "no such open observation of this bag")
	})
}
