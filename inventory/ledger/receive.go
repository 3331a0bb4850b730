package ledger

import (
	"cmp"
	"context"

	"stowkeeper/inventory"
)

// Receive books units in and returns their lot.
func (s *Service) Receive(ctx context.Context, by inventory.Actor, in inventory.Receipt) (inventory.Lot, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Lot, error) {
		in.Place, in.Item = inventory.NormalCode(in.Place), inventory.NormalCode(in.Item)
		p := NewUnit(w, by, s.now())
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return inventory.Lot{}, err
		}
		place, err := p.Place(in.Place)
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "place")
		}
		if err := p.May(inventory.ActKeepStock, place); err != nil {
			return inventory.Lot{}, err
		}
		return p.Receive(in, place)
	})
}

func (p *Unit) Receive(in inventory.Receipt, place inventory.Place) (inventory.Lot, error) {
	m, err := p.Receipt(in, place, Carried{})
	if err != nil {
		return inventory.Lot{}, err
	}
	ms, err := p.Post([]inventory.Movement{m}, "receipt")
	if err != nil {
		return inventory.Lot{}, err
	}
	return p.W.Lot(ms[0].IntoLotID)
}

// Carried is what units that are counted in had behind them already.
type Carried struct {
	inventory.Clocks
	ReceivedOn inventory.Day // 0 for the day of the receipt
}

// Receipt judges units coming in and returns the movement that brings them,
// their lot made where it does not exist.
func (p *Unit) Receipt(in inventory.Receipt, place inventory.Place, had Carried) (inventory.Movement, error) {
	station, err := p.CurrentStation(place)
	if err != nil {
		return inventory.Movement{}, err
	}
	if in.HappenedAt, err = Happened(in.HappenedAt, p.Now, "happened_at"); err != nil {
		return inventory.Movement{}, err
	}
	day := station.Today(in.HappenedAt)
	if in, err = p.fromCode(in, day); err != nil {
		return inventory.Movement{}, err
	}
	if in.Item == "" {
		return inventory.Movement{}, inventory.Invalidf("item", "name the item")
	}
	it, err := p.Item(in.Item)
	if err != nil {
		return inventory.Movement{}, inventory.AsField(err, "item", "item")
	}
	batch, err := in.Batch(it, day)
	if err := inventory.MergeErrors(err, had.Check(it, place, day), p.productOf(in)); err != nil {
		return inventory.Movement{}, err
	}
	if batch, err = p.settle(in, batch); err != nil {
		return inventory.Movement{}, err
	}
	if err := fitToReceive(it, batch, place, day, in.Opening); err != nil {
		return inventory.Movement{}, err
	}
	had.Training, had.Unidentified = place.Purpose == inventory.ForTraining, in.Unidentified
	lot, err := p.LotFor(batch, had.Clocks, cmp.Or(had.ReceivedOn, day))
	if err != nil {
		return inventory.Movement{}, err
	}
	if len(lot.Withdrawn) > 0 && place.Kind != inventory.KindQuarantine {
		return inventory.Movement{}, inventory.Errorf(inventory.Conflict,
			"this batch is under notice %s: receive it into quarantine only", lot.Withdrawn[0])
	}
	p.fresh = lot
	reason := inventory.ReasonReceipt
	if in.Opening {
		reason = inventory.ReasonOpening
	}
	return inventory.Movement{LotID: lot.ID, Qty: in.Qty, From: string(inventory.KindSupplier), To: place.Code,
		Reason:     reason,
		HappenedAt: in.HappenedAt, Reference: in.Reference, Note: in.Note}, nil
}

// Check refuses clocks that cannot have run like that: days that lie ahead,
// and units that are exposed without lying on a carrier.
func (c Carried) Check(it inventory.Item, place inventory.Place, today inventory.Day) error {
	var ps inventory.Problems
	for path, day := range map[string]inventory.Day{"received_on": c.ReceivedOn, "stowed_on": c.StowedOn,
		"opened_on": c.OpenedOn, "exposed_since": c.ExposedSince, "exposed_last": c.ExposedLast} {
		ps.When(day > today, path, "give a day that has passed")
	}
	ps.When(c.ExposedSince != 0 && place.Kind != inventory.KindCarrier, "exposed_since",
		"leave this out: only what lies on a carrier is exposed")
	ps.When(c.ExposedDays < 0 || c.ExposedDays > 36500, "exposed_days", "give 0 to 36500 days")
	ps.When(c.OpenedOn != 0 && it.Life.OpenedDays == 0, "opened_on", "leave this out: the item has no limit after opening")
	return ps.Err()
}

// fitToReceive refuses expired stock into a store of issue stock, and expired
// medicines into a training store as well. Stock that is counted in when the service starts may have expired where it
// lies.
func fitToReceive(it inventory.Item, b inventory.Batch, place inventory.Place, day inventory.Day, opening bool) error {
	if opening || place.Kind == inventory.KindQuarantine || !inventory.PastEnd(it, inventory.Lot{Batch: b}, day) {
		return nil
	}
	if it.Category.Medicinal() {
		return inventory.Errorf(inventory.Conflict,
			"it is past its last usable day: receive it into quarantine and dispose of it")
	}
	if place.Purpose == inventory.ForTraining {
		return nil
	}
	return inventory.Errorf(inventory.Conflict,
		"it is past its last usable day: receive it into a training store, or into quarantine to dispose of it")
}

func (p *Unit) productOf(in inventory.Receipt) error {
	if in.Product == 0 {
		return nil
	}
	pr, err := p.W.Product(in.Product)
	if err != nil {
		return inventory.AsField(err, "product", "product")
	}
	if pr.Item != in.Item {
		return inventory.Invalidf("product", "name a product of this item")
	}
	return nil
}

// LotFor returns the lot of a batch with those clocks, making batch and lot
// where they do not exist. The same batch with another date is a conflict that
// says what the earlier record has.
func (p *Unit) LotFor(b inventory.Batch, c inventory.Clocks, day inventory.Day) (inventory.Lot, error) {
	b, err := p.ofProduct(b)
	if err != nil {
		return inventory.Lot{}, err
	}
	old, err := p.batchLike(b)
	switch {
	case err != nil && inventory.KindOf(err) == inventory.NotFound:
		if err := p.newSerial(b); err != nil {
			return inventory.Lot{}, err
		}
		if old, err = p.addBatch(b); err != nil {
			return inventory.Lot{}, err
		}
		if old, err = p.underNotice(old); err != nil {
			return inventory.Lot{}, err
		}
	case err != nil:
		return inventory.Lot{}, err
	case b.Serial != "":
		return inventory.Lot{}, errReceived()
	case old.EndPrinted != b.EndPrinted || old.EndWording != b.EndWording || old.MadeOn != b.MadeOn:
		return inventory.Lot{}, errOtherDates(old)
	}
	return p.W.EnsureLot(old.ID, c, 0, day)
}

// ofProduct gives a batch whose product nobody named the one under which its
// number is known, where that is one alone: who types the number of a pack means
// the batch that was scanned before. A file names products or means none.
func (p *Unit) ofProduct(b inventory.Batch) (inventory.Batch, error) {
	if p.Many || b.Product != 0 || b.BatchNo == "" || b.Serial != "" {
		return b, nil
	}
	of, err := Cached(p.batches, b.Item, p.batchesOf)
	if err != nil {
		return b, err
	}
	known := 0
	for k := range of.numbers {
		if k.batchNo == b.BatchNo {
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
func errOtherDates(old inventory.Batch) error {
	return &inventory.Error{Kind: inventory.Conflict, Cause: OtherDates{old},
		Fields: []inventory.Field{{Path: "on_conflict", Fix: "look at the pack and say which is right"}},
		Message: "this batch was received before with " + DatesText(old) +
			"; look at the pack and say which is right: keep the earlier record, or correct it where it was mistyped"}
}

// OtherDates is the earlier record that a pack does not agree with.
type OtherDates struct{ Old inventory.Batch }

func (OtherDates) Error() string { return "received before with other dates" }

func errReceived() error {
	return inventory.Errorf(inventory.Conflict,
		"this serial number has been received before; a serial number is received once")
}

// newSerial refuses a serial number that differs from a known one in case or
// blanks alone: the device may have been typed in otherwise the first time, and
// used since.
func (p *Unit) newSerial(b inventory.Batch) error {
	if b.Serial == "" {
		return nil
	}
	known, err := Cached(p.batches, b.Item, p.batchesOf)
	if err == nil && known.serials[inventory.FoldNumber(b.Serial)] {
		return errReceived()
	}
	return err
}

// batchesOf gathers what tells the batches of an item apart besides exact
// numbers.
func (p *Unit) batchesOf(item string) (*itemBatches, error) {
	all, err := p.W.Batches(inventory.BatchFilter{Items: []string{item}})
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
	numberless []inventory.Batch
}

type productLot struct {
	product int64
	batchNo string
}

func (i *itemBatches) add(b inventory.Batch) {
	switch {
	case b.Serial != "":
		i.serials[inventory.FoldNumber(b.Serial)] = true
	case b.BatchNo == "":
		i.numberless = append(i.numberless, b)
	default:
		i.numbers[productLot{b.Product, b.BatchNo}] = true
	}
}

func (p *Unit) addBatch(b inventory.Batch) (inventory.Batch, error) {
	b, err := p.W.AddBatch(b)
	if of := p.batches[b.Item]; of != nil && err == nil {
		of.add(b)
	}
	return b, err
}

// batchLike finds the batch that units belong to. Where no number tells, their
// dates do.
func (p *Unit) batchLike(b inventory.Batch) (inventory.Batch, error) {
	numbered := b.BatchNo != "" || b.Serial != ""
	if numbered && !p.Many {
		return p.W.FindBatch(b.Item, b.Product, b.BatchNo, b.Serial)
	}
	of, err := Cached(p.batches, b.Item, p.batchesOf)
	if err != nil {
		return inventory.Batch{}, err
	}
	if numbered && (of.numbers[productLot{b.Product, b.BatchNo}] || of.serials[inventory.FoldNumber(b.Serial)]) {
		return p.W.FindBatch(b.Item, b.Product, b.BatchNo, b.Serial)
	}
	for _, k := range of.numberless {
		if !numbered && k.Product == b.Product && k.MadeOn == b.MadeOn && k.EndPrinted == b.EndPrinted &&
			k.EndWording == b.EndWording {
			return p.W.Batch(k.ID)
		}
	}
	return inventory.Batch{}, inventory.Errorf(inventory.NotFound, "no such batch")
}

func DatesText(b inventory.Batch) string {
	s := "no date"
	if b.EndPrinted != "" {
		s = inventory.WordingText(b.EndWording) + " " + b.EndPrinted
	}
	if b.MadeOn != 0 {
		s += ", made " + b.MadeOn.String()
	}
	return s
}

// underNotice marks a batch that is new with the notices that mean it.
func (p *Unit) underNotice(b inventory.Batch) (inventory.Batch, error) {
	notices, err := Cached(p.notices, b.Item, func(item string) ([]inventory.Notice, error) {
		if err := p.W.LockItem(item); err != nil {
			return nil, err
		}
		return p.W.Notices(inventory.NoticeFilter{Item: item}, inventory.Page{})
	})
	if err != nil || len(notices) == 0 {
		return b, err
	}
	if err := applyTo(p.W, b, notices); err != nil {
		return b, err
	}
	return p.W.Batch(b.ID)
}
