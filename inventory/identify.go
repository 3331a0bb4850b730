package inventory

import "context"

// Identification is what was found out of unidentified units.
type Identification struct {
	Place            string     `json:"place" doc:"Code of the quarantine where they lie"`
	Qty              int        `json:"qty" minimum:"1" maximum:"100000"`
	Product          int64      `json:"product,omitempty" doc:"Product id, where known"`
	LotNo            string     `json:"lot_no,omitempty" maxLength:"40" doc:"Batch number"`
	Serial           string     `json:"serial,omitempty" maxLength:"40" doc:"Serial number, for a device"`
	MadeOn           string     `json:"made_on,omitempty" doc:"Date of manufacture: YYYY-MM or YYYY-MM-DD"`
	EndPrinted       string     `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD"`
	EndWording       Wording    `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before" doc:"The words beside it; expiry if left out"`
	Note             string     `json:"note" maxLength:"2000" doc:"How it was found out"`
	OnConflict       OnConflict `json:"on_conflict,omitempty" enum:"keep,correct" doc:"Where the batch was received with another date: keep the earlier record's, or correct it"`
	CorrectionReason string     `json:"correction_reason,omitempty" maxLength:"2000" doc:"For correct: why the earlier record is wrong"`
}

// receipt is the identification as a pack would have been received.
func (in Identification) receipt(item string) Receipt {
	return Receipt{Item: item, Product: in.Product, LotNo: in.LotNo, Serial: in.Serial, MadeOn: in.MadeOn, EndPrinted: in.EndPrinted,
		EndWording: in.EndWording, Qty: in.Qty, Note: in.Note, OnConflict: in.OnConflict, CorrectionReason: in.CorrectionReason}
}

// Identify turns unidentified units into units of the batch that they turned
// out to be of. They stay in quarantine; a release follows as for any others.
func (s *Service) Identify(ctx context.Context, by Actor, lot int64, in Identification) (Lot, error) {
	return write(ctx, s, func(w Writer) (Lot, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return Lot{}, err
		}
		p := newPoster(w, by, s.Now())
		old, err := w.Lot(lot)
		if err != nil {
			return Lot{}, err
		}
		place, err := p.place(placeCode(in.Place))
		if err != nil {
			return Lot{}, known(err, "place", "place")
		}
		if err := p.may(ActKeepStock, place); err != nil {
			return Lot{}, err
		}
		if !old.Unidentified {
			return Lot{}, Errorf(Conflict, "these units are identified already")
		}
		if place.Kind != KindQuarantine {
			return Lot{}, Invalidf("place", "name the quarantine where they lie")
		}
		return p.identify(old, place, in)
	})
}

func (p *poster) identify(old Lot, place Place, in Identification) (Lot, error) {
	var ps problems
	checkText(&ps, "note", in.Note, true, MaxNote)
	if err := ps.err(); err != nil {
		return Lot{}, err
	}
	it, err := p.item(old.Item)
	if err != nil {
		return Lot{}, err
	}
	site, err := p.site(place.Site)
	if err != nil {
		return Lot{}, err
	}
	receipt := in.receipt(it.Code)
	batch, err := receipt.batch(it, site.Today(p.now))
	if err != nil {
		return Lot{}, err
	}
	if err := p.productOf(receipt); err != nil {
		return Lot{}, err
	}
	if batch, err = p.settle(receipt, batch); err != nil {
		return Lot{}, err
	}
	from, lot, err := p.identity(batch, old, site.Today(p.now))
	if err != nil {
		return Lot{}, err
	}
	ms, err := p.post([]Movement{
		{LotID: old.ID, Qty: in.Qty, From: place.Code, To: string(KindFound), Reason: ReasonFound, Note: in.Note},
		{LotID: lot.ID, Qty: in.Qty, From: from, To: place.Code, Reason: ReasonFound, Note: in.Note},
	}, "lines")
	if err != nil {
		return Lot{}, err
	}
	return p.w.Lot(ms[1].IntoLotID)
}

// identity returns the lot that units turned out to be of, and whether the
// ledger has it as lost: then that is where the device comes from.
func (p *poster) identity(b Batch, old Lot, day Day) (from string, lot Lot, err error) {
	if b.Serial != "" {
		known, err := p.w.FindBatch(b.Item, 0, "", b.Serial)
		if err == nil {
			last, err := p.lastMove(Lot{Batch: known})
			if err != nil {
				return "", Lot{}, err
			}
			if last.To != string(KindLost) {
				return "", Lot{}, Errorf(Conflict, "the ledger has this serial number somewhere else; look there first")
			}
			lot, err = p.w.Lot(last.IntoLotID)
			return string(KindLost), lot, err
		}
		if KindOf(err) != NotFound {
			return "", Lot{}, err
		}
	}
	lot, err = p.lotFor(b, Clocks{Training: old.Training}, day)
	return string(KindFound), lot, err
}
