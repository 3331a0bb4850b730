package inventory

import "context"

// Opened is units that somebody opens where they lie.
type Opened struct {
	Place    string  `json:"place" doc:"Place code"`
	Qty      int     `json:"qty" minimum:"1" maximum:"1000000"`
	OpenedAt Instant `json:"opened_at,omitempty" format:"date-time" doc:"Now if left out"`
	Note     string  `json:"note,omitempty" maxLength:"2000"`
}

// OpenUnits starts the opened clock for some units of a lot where they lie: they
// become a lot of their own, and the others stay as they are.
func (s *Service) OpenUnits(ctx context.Context, by Actor, lot int64, in Opened) (Lot, error) {
	return write(ctx, s, func(w Writer) (Lot, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return Lot{}, err
		}
		p := newPoster(w, by, s.Now())
		pl, err := p.place(placeCode(in.Place))
		if err != nil {
			return Lot{}, known(err, "place", "place")
		}
		if pl.Outside() {
			return Lot{}, Invalidf("place", "name a place of the service")
		}
		site, err := p.siteHere(pl)
		if err != nil {
			return Lot{}, err
		}
		if err := by.must(ActCheck, site.Code); err != nil {
			return Lot{}, err
		}
		if err := w.LockBags([]string{pl.Code}); err != nil {
			return Lot{}, err
		}
		m, err := p.opening(lot, pl, site, in)
		if err != nil {
			return Lot{}, err
		}
		if m, err = p.sign(m); err != nil {
			return Lot{}, err
		}
		if _, err := p.append([]Movement{m}); err != nil {
			return Lot{}, err
		}
		return w.Lot(m.IntoLotID)
	})
}

// opening prepares the movement, in place, of units into their opened lot.
func (p *poster) opening(lot int64, pl Place, site Site, in Opened) (Movement, error) {
	l, err := p.w.Lot(lot)
	if err != nil {
		return Movement{}, err
	}
	it, err := p.item(l.Item)
	if err != nil {
		return Movement{}, err
	}
	at, err := happened(in.OpenedAt, p.now, "opened_at")
	var ps problems
	if err != nil {
		ps.take("", err)
	}
	ps.when(in.Qty < 1 || in.Qty > MaxQty, "qty", "give 1 to %d units", MaxQty)
	checkText(&ps, "note", in.Note, false, MaxNote)
	if err := ps.err(); err != nil {
		return Movement{}, err
	}
	switch {
	case it.Life.OpenedDays == 0:
		return Movement{}, Errorf(Conflict, "the item has no limit after opening, so nothing starts")
	case l.OpenedOn != 0:
		return Movement{}, Errorf(Conflict, "these units are opened already")
	}
	clocks := l.Clocks
	clocks.OpenedOn = site.Today(at)
	into, err := p.w.EnsureLot(l.Batch.ID, clocks, l.ID, l.ReceivedOn)
	return Movement{Site: pl.Site, LotID: l.ID, IntoLotID: into.ID, Qty: in.Qty, From: pl.Code, To: pl.Code, Reason: ReasonTransfer,
		HappenedAt: at, RecordedAt: p.now, By: p.by.Name, Note: in.Note}, err
}
