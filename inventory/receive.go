package inventory

import (
	"cmp"
	"context"
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
	m, err := p.receipt(in, place, carried{})
	if err != nil {
		return Lot{}, err
	}
	ms, err := p.post([]Movement{m}, "receipt")
	if err != nil {
		return Lot{}, err
	}
	return p.w.Lot(ms[0].IntoLotID)
}

// carried is what units that are counted in had behind them already.
type carried struct {
	Clocks
	receivedOn Day // 0 for the day of the receipt
}

// receipt judges units coming in and returns the movement that brings them,
// their lot made where it does not exist.
func (p *poster) receipt(in Receipt, place Place, had carried) (Movement, error) {
	site, err := p.siteHere(place)
	if err != nil {
		return Movement{}, err
	}
	if in.ReceivedAt, err = happened(in.ReceivedAt, p.now, "received_at"); err != nil {
		return Movement{}, err
	}
	day := site.Today(in.ReceivedAt)
	if in, err = p.fromCode(in, day); err != nil {
		return Movement{}, err
	}
	if in.Item == "" {
		return Movement{}, Invalidf("item", "name the item")
	}
	it, err := p.item(in.Item)
	if err != nil {
		return Movement{}, known(err, "item", "item")
	}
	batch, err := in.batch(it, day)
	if err := joined(err, had.check(it, place, day), p.productOf(in)); err != nil {
		return Movement{}, err
	}
	if batch, err = p.settle(in, batch); err != nil {
		return Movement{}, err
	}
	if err := fitToReceive(it, batch, place, day, in.Opening); err != nil {
		return Movement{}, err
	}
	had.Training, had.Unidentified = place.Purpose == ForTraining, in.Unidentified
	lot, err := p.lotFor(batch, had.Clocks, cmp.Or(had.receivedOn, day))
	if err != nil {
		return Movement{}, err
	}
	if len(lot.Withdrawn) > 0 && place.Kind != KindQuarantine {
		return Movement{}, Errorf(Conflict, "this batch is under notice %s: receive it into quarantine only", lot.Withdrawn[0])
	}
	p.fresh = lot
	reason := ReasonReceipt
	if in.Opening {
		reason = ReasonOpening
	}
	return Movement{LotID: lot.ID, Qty: in.Qty, From: string(KindSupplier), To: place.Code, Reason: reason,
		HappenedAt: in.ReceivedAt, Reference: in.Reference, Note: in.Note}, nil
}

// check refuses clocks that cannot have run like that: days that lie ahead,
// and units that are exposed without lying on a carrier.
func (c carried) check(it Item, place Place, today Day) error {
	var ps problems
	for path, day := range map[string]Day{"received_on": c.receivedOn, "stowed_on": c.StowedOn, "opened_on": c.OpenedOn, "exposed_since": c.ExposedSince, "exposed_last": c.ExposedLast} {
		ps.when(day > today, path, "give a day that has passed")
	}
	ps.when(c.ExposedSince != 0 && place.Kind != KindCarrier, "exposed_since", "leave this out: only what lies on a carrier is exposed")
	ps.when(c.ExposedDays < 0 || c.ExposedDays > 36500, "exposed_days", "give 0 to 36500 days")
	ps.when(c.OpenedOn != 0 && it.Life.OpenedDays == 0, "opened_on", "leave this out: the item has no limit after opening")
	return ps.err()
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
	b, err := p.ofProduct(b)
	if err != nil {
		return Lot{}, err
	}
	old, err := p.batchLike(b)
	switch {
	case err != nil && KindOf(err) == NotFound:
		if err := p.newSerial(b); err != nil {
			return Lot{}, err
		}
		if old, err = p.addBatch(b); err != nil {
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

// ofProduct gives a batch whose product nobody named the one under which its
// number is known, where that is one alone: who types the number of a pack means
// the batch that was scanned before. A file names products or means none.
func (p *poster) ofProduct(b Batch) (Batch, error) {
	if p.many || b.Product != 0 || b.LotNo == "" || b.Serial != "" {
		return b, nil
	}
	of, err := cached(p.batches, b.Item, p.batchesOf)
	if err != nil {
		return b, err
	}
	known := 0
	for k := range of.numbers {
		if k.lotNo == b.LotNo {
			known, b.Product = known+1, k.product
		}
	}
	if known > 1 {
		b.Product = 0
	}
	return b, nil
}

// errOtherDates offers both ways out where a batch was received before with
// other dates.
func errOtherDates(old Batch) error {
	return &Error{Kind: Conflict, Cause: otherDates{old}, Fields: []Field{{Path: "on_conflict", Fix: "look at the pack and say which is right"}},
		Message: "this batch was received before with " + datesText(old) +
			"; look at the pack and say which is right: keep the earlier record, or correct it where it was mistyped"}
}

// otherDates is the earlier record that a pack does not agree with.
type otherDates struct{ old Batch }

func (otherDates) Error() string { return "received before with other dates" }

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
	known, err := cached(p.batches, b.Item, p.batchesOf)
	if err == nil && known.serials[foldNumber(b.Serial)] {
		return errReceived()
	}
	return err
}

// batchesOf gathers what tells the batches of an item apart besides exact
// numbers.
func (p *poster) batchesOf(item string) (*itemBatches, error) {
	all, err := p.w.Batches(item)
	of := &itemBatches{serials: map[string]bool{}, numbers: map[productLot]bool{}}
	for _, b := range all {
		of.add(b)
	}
	return of, err
}

// itemBatches are the serial numbers of an item as they are compared, its batch
// numbers, and its batches that have no number.
type itemBatches struct {
	serials    map[string]bool
	numbers    map[productLot]bool
	numberless []Batch
}

type productLot struct {
	product int64
	lotNo   string
}

func (i *itemBatches) add(b Batch) {
	switch {
	case b.Serial != "":
		i.serials[foldNumber(b.Serial)] = true
	case b.LotNo == "":
		i.numberless = append(i.numberless, b)
	default:
		i.numbers[productLot{b.Product, b.LotNo}] = true
	}
}

func (p *poster) addBatch(b Batch) (Batch, error) {
	b, err := p.w.AddBatch(b)
	if of := p.batches[b.Item]; of != nil && err == nil {
		of.add(b)
	}
	return b, err
}

// batchLike finds the batch that units belong to. Where no number tells, their
// dates do.
func (p *poster) batchLike(b Batch) (Batch, error) {
	numbered := b.LotNo != "" || b.Serial != ""
	if numbered && !p.many {
		return p.w.FindBatch(b.Item, b.Product, b.LotNo, b.Serial)
	}
	of, err := cached(p.batches, b.Item, p.batchesOf)
	if err != nil {
		return Batch{}, err
	}
	if numbered && (of.numbers[productLot{b.Product, b.LotNo}] || of.serials[foldNumber(b.Serial)]) {
		return p.w.FindBatch(b.Item, b.Product, b.LotNo, b.Serial)
	}
	for _, k := range of.numberless {
		if !numbered && k.Product == b.Product && k.MadeOn == b.MadeOn && k.EndPrinted == b.EndPrinted && k.EndWording == b.EndWording {
			return p.w.Batch(k.ID)
		}
	}
	return Batch{}, Errorf(NotFound, "no such batch")
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
