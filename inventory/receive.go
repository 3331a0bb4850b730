package inventory

import (
	"cmp"
	"context"
	"slices"
)

// Receipt is units coming in from a supplier.
type Receipt struct {
	Place            string     `json:"place" doc:"Place code, usually a store"`
	Barcode          string     `json:"barcode,omitempty" maxLength:"7200" doc:"The text of the pack's barcode, separators as ASCII 29: it says product, number and dates, and what it leaves out is given beside it"`
	Packs            int        `json:"packs,omitempty" minimum:"1" maximum:"10000" doc:"With a barcode: how many packs; qty is then packs times pack size"`
	Item             string     `json:"item,omitempty" doc:"Item code; without a barcode it is needed"`
	Product          int64      `json:"product,omitempty" doc:"Product id, where known"`
	LotNo            string     `json:"lot_no,omitempty" maxLength:"40" doc:"Batch number as printed"`
	Serial           string     `json:"serial,omitempty" maxLength:"40" doc:"Serial number as printed, for a device"`
	MadeOn           string     `json:"made_on,omitempty" doc:"Date of manufacture as printed: YYYY-MM or YYYY-MM-DD"`
	EndPrinted       string     `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD"`
	EndWording       Wording    `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before" doc:"The words beside it; expiry if left out"`
	Qty              int        `json:"qty,omitempty" minimum:"1" maximum:"1000000" doc:"Units, not packs; needed unless packs is given"`
	Reference        string     `json:"reference,omitempty" maxLength:"120" doc:"Order or delivery note"`
	Note             string     `json:"note,omitempty" maxLength:"2000"`
	ReceivedAt       Instant    `json:"received_at,omitempty" format:"date-time" doc:"Now if left out"`
	OnConflict       OnConflict `json:"on_conflict,omitempty" enum:"keep,correct" doc:"Where the same batch was received with another date: keep the earlier record's, or correct it"`
	CorrectionReason string     `json:"correction_reason,omitempty" maxLength:"2000" doc:"For correct: why the earlier record is wrong"`
	Unidentified     bool       `json:"unidentified,omitempty" doc:"No batch or date to be read: into quarantine only, never counted until identified"`
	Opening          bool       `json:"-"` // stock counted in when the service starts
}

// Receive books units in and returns their lot.
func (s *Service) Receive(ctx context.Context, by Actor, in Receipt) (Lot, error) {
	return write(ctx, s, func(w Writer) (Lot, error) {
		in.Place, in.Item = NormalCode(in.Place), NormalCode(in.Item)
		p := newPoster(w, by, s.Now())
		if err := by.must(ActKeepStock, ""); err != nil {
			return Lot{}, err
		}
		place, err := p.place(in.Place)
		if err != nil {
			return Lot{}, known(err, "place", "place")
		}
		if err := p.may(ActKeepStock, place); err != nil {
			return Lot{}, err
		}
		return p.receive(in, place)
	})
}

func (p *poster) receive(in Receipt, place Place) (Lot, error) {
	site, err := p.siteHere(place)
	if err != nil {
		return Lot{}, err
	}
	if in.ReceivedAt, err = happened(in.ReceivedAt, p.now, "received_at"); err != nil {
		return Lot{}, err
	}
	day := site.Today(in.ReceivedAt)
	if in, err = p.fromCode(in, day); err != nil {
		return Lot{}, err
	}
	it, err := p.item(in.Item)
	if err != nil {
		return Lot{}, known(err, "item", "item")
	}
	batch, err := in.batch(it, day)
	if err != nil {
		return Lot{}, err
	}
	if err := p.productOf(in); err != nil {
		return Lot{}, err
	}
	if batch, err = p.settle(in, batch); err != nil {
		return Lot{}, err
	}
	if err := fitToReceive(it, batch, place, day, in.Opening); err != nil {
		return Lot{}, err
	}
	lot, err := p.lotFor(batch, Clocks{Training: place.Purpose == ForTraining, Unidentified: in.Unidentified}, day)
	if err != nil {
		return Lot{}, err
	}
	if len(lot.Withdrawn) > 0 && place.Kind != KindQuarantine {
		return Lot{}, Errorf(Conflict, "this batch is under notice %s: receive it into quarantine only", lot.Withdrawn[0])
	}
	reason := ReasonReceipt
	if in.Opening {
		reason = ReasonOpening
	}
	ms, err := p.post([]Movement{{LotID: lot.ID, Qty: in.Qty, From: string(KindSupplier), To: place.Code, Reason: reason,
		HappenedAt: in.ReceivedAt, Reference: in.Reference, Note: in.Note}}, "receipt")
	if err != nil {
		return Lot{}, err
	}
	return p.w.Lot(ms[0].IntoLotID)
}

// batch reads what the pack says, with all that is wrong with it.
func (in Receipt) batch(it Item, day Day) (Batch, error) {
	in.LotNo, in.Serial = oneLine(in.LotNo), oneLine(in.Serial)
	b := Batch{Item: it.Code, Product: in.Product, LotNo: in.LotNo, Serial: in.Serial, EndPrinted: in.EndPrinted, EndWording: in.EndWording}
	var ps problems
	checkText(&ps, "lot_no", in.LotNo, false, 40)
	checkText(&ps, "serial", in.Serial, false, 40)
	checkText(&ps, "reference", in.Reference, false, MaxName)
	checkText(&ps, "note", in.Note, false, MaxNote)
	ps.when(in.Qty < 1 || in.Qty > MaxQty, "qty", "give 1 to %d units", MaxQty)
	ps.when(in.OnConflict != "" && in.OnConflict != KeepEarlier && in.OnConflict != CorrectEarlier, "on_conflict", "choose keep or correct")
	if in.Unidentified {
		ps.when(in.LotNo+in.Serial+in.MadeOn+in.EndPrinted != "", "unidentified", "leave out number and date, or say that they are identified; a note may tell what can be read")
		return Batch{Item: it.Code, Product: in.Product}, ps.err()
	}
	ps.when(it.TrackedBy == BySerial && in.Serial == "", "serial", "give the serial number: this item is tracked by it")
	ps.when(it.TrackedBy == BySerial && in.Qty > 1, "qty", "receive devices one at a time")
	ps.when(it.TrackedBy == ByLot && in.Serial != "", "serial", "leave this out: the item is tracked by batch number")
	ps.when(it.Dated && in.LotNo == "" && in.Serial == "", "lot_no", "give the batch number; without one the units are unidentified and go to quarantine")
	ps.when(!it.Dated && in.EndPrinted != "" && in.LotNo == "" && in.Serial == "", "lot_no", "give the batch number that goes with the printed date")
	ps.when(it.Dated && in.EndPrinted == "", "end_printed", "give the printed date; without one the units are unidentified and go to quarantine")
	ps.when(in.EndPrinted != "" && in.EndWording == "" && it.Category.Medicinal(), "end_wording", "choose the words printed beside the date: on medicines they change what it means")
	if in.EndPrinted != "" {
		if b.EndWording == "" {
			b.EndWording = WordExpiry
		}
		last, err := LastUsable(in.EndPrinted, b.EndWording, it.Category)
		b.LastUsable = last
		ps.take("", err)
	}
	if in.MadeOn != "" {
		made, err := ParseMade(in.MadeOn)
		b.MadeOn = made
		ps.take("made_on", err)
		ps.when(made > day, "made_on", "give a day that has passed")
		ps.when(b.LastUsable != 0 && made > b.LastUsable, "made_on", "give a day before the printed end")
	}
	return b, ps.err()
}

// fitToReceive refuses expired stock into a store of issue stock, and expired
// medicines into a training store as well. Stock that is counted in when the service starts may have expired where it lies.
func fitToReceive(it Item, b Batch, place Place, day Day, opening bool) error {
	if opening || place.Kind == KindQuarantine || !pastEnd(it, Lot{Batch: b}, day) {
		return nil
	}
	if it.Category.Medicinal() {
		return Errorf(Conflict, "it is past its last usable day: receive it into quarantine and dispose of it")
	}
	if place.Purpose == ForTraining {
		return nil
	}
	return Errorf(Conflict, "it is past its last usable day: receive it into a training store, or into quarantine to dispose of it")
}

func (p *poster) productOf(in Receipt) error {
	if in.Product == 0 {
		return nil
	}
	pr, err := p.w.Product(in.Product)
	if err != nil {
		return known(err, "product", "product")
	}
	if pr.Item != in.Item {
		return Invalidf("product", "name a product of this item")
	}
	return nil
}

// lotFor returns the lot of a batch with those clocks, making batch and lot
// where they do not exist. The same batch with another date is a conflict that
// says what the earlier record has.
func (p *poster) lotFor(b Batch, c Clocks, day Day) (Lot, error) {
	old, err := p.batchLike(b)
	switch {
	case err != nil && KindOf(err) == NotFound:
		if err := p.newSerial(b); err != nil {
			return Lot{}, err
		}
		if old, err = p.w.AddBatch(b); err != nil {
			return Lot{}, err
		}
		if old, err = p.underNotice(old); err != nil {
			return Lot{}, err
		}
	case err != nil:
		return Lot{}, err
	case b.Serial != "":
		return Lot{}, errReceived()
	case old.EndPrinted != b.EndPrinted || old.EndWording != b.EndWording || old.MadeOn != b.MadeOn:
		return Lot{}, errOtherDates(old)
	}
	return p.w.EnsureLot(old.ID, c, 0, day)
}

// errOtherDates offers both ways out where a batch was received before with
// other dates.
func errOtherDates(old Batch) error {
	return &Error{Kind: Conflict, Fields: []Field{{Path: "on_conflict", Fix: "look at the pack and say which is right"}},
		Message: "this batch was received before with " + datesText(old) +
			"; look at the pack and say in on_conflict which is right: keep the earlier record, or correct it where it was mistyped"}
}

func errReceived() error {
	return Errorf(Conflict, "this serial number has been received before; a serial number is received once")
}

// newSerial refuses a serial number that differs from a known one in case or
// blanks alone: the device may have been typed in otherwise the first time, and
// used since.
func (p *poster) newSerial(b Batch) error {
	if b.Serial == "" {
		return nil
	}
	known, err := p.w.Batches(b.Item)
	if err == nil && slices.ContainsFunc(known, func(k Batch) bool { return foldNumber(k.Serial) == foldNumber(b.Serial) }) {
		return errReceived()
	}
	return err
}

// batchLike finds the batch that units belong to. Where no number tells, their
// dates do.
func (p *poster) batchLike(b Batch) (Batch, error) {
	if b.LotNo != "" || b.Serial != "" {
		return p.w.FindBatch(b.Item, b.Product, b.LotNo, b.Serial)
	}
	lots, err := p.w.Lots(LotFilter{Item: b.Item}, Page{})
	for _, l := range lots {
		if k := l.Batch; k.Product == b.Product && k.LotNo == "" && k.Serial == "" && k.MadeOn == b.MadeOn && k.EndPrinted == b.EndPrinted && k.EndWording == b.EndWording {
			return k, nil
		}
	}
	return Batch{}, cmp.Or(err, Errorf(NotFound, "no such batch"))
}

func datesText(b Batch) string {
	s := "no date"
	if b.EndPrinted != "" {
		s = wordingText(b.EndWording) + " " + b.EndPrinted
	}
	if b.MadeOn != 0 {
		s += ", made " + b.MadeOn.String()
	}
	return s
}
