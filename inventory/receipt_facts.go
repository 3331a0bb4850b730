package inventory

import (
	"cmp"
	"slices"

	"stowkeeper/inventory/message"
)

// ReceiptFacts are what receipts of one item are judged by.
type ReceiptFacts struct {
	Item       Item
	Products   []Product
	notices    []Notice
	serials    map[string]*Batch // by their folded serial numbers
	numbers    map[productBatch]*Batch
	numberless []*Batch
	back       map[int64]Lot // devices that are at their supplier again, by batch
}

type productBatch struct {
	product int64
	batchNo string
}

// NewReceiptFacts picks what is of an item. back are devices that went back to their supplier, or never came.
func NewReceiptFacts(it Item, products []Product, notices []Notice, batches []Batch, back []Lot) *ReceiptFacts {
	k := &ReceiptFacts{Item: it, Products: products, serials: map[string]*Batch{}, numbers: map[productBatch]*Batch{},
		back: map[int64]Lot{}}
	for _, n := range notices {
		if n.Item == it.Code {
			k.notices = append(k.notices, n)
		}
	}
	for _, b := range batches {
		if b.Item == it.Code {
			k.Put(&b)
		}
	}
	for _, l := range back {
		k.back[l.Batch.ID] = l
	}
	return k
}

// Put adds a batch, or puts it in the place of the one with its number.
func (k *ReceiptFacts) Put(b *Batch) {
	delete(k.back, b.ID)
	switch {
	case b.MergedInto != 0:
	case b.Serial != "":
		k.serials[FoldNumber(b.Serial)] = b
	case b.BatchNo != "":
		k.numbers[productBatch{b.Product, b.BatchNo}] = b
	case !slices.Contains(k.numberless, b):
		k.numberless = append(k.numberless, b)
	}
}

// has refuses a product that is another item's.
func (k *ReceiptFacts) has(product int64) error {
	if product == 0 || slices.ContainsFunc(k.Products, func(pr Product) bool {
		return pr.ID == product && pr.Item == k.Item.Code
	}) {
		return nil
	}
	return InvalidField("product", "choose a product of this item")
}

// like finds the known batch that units belong to. Serial numbers are compared with case and blanks apart, since a
// device may have been typed in otherwise the first time; where no number tells, the dates do.
func (k *ReceiptFacts) like(b Batch) *Batch {
	switch {
	case b.Serial != "":
		return k.serials[FoldNumber(b.Serial)]
	case b.BatchNo != "":
		return k.numbers[productBatch{b.Product, b.BatchNo}]
	}
	for _, known := range k.numberless {
		if known.Product == b.Product && known.Facts() == b.Facts() {
			return known
		}
	}
	return nil
}

// ofProduct gives a batch whose product nobody named the one under which its number is known, where that is one
// alone: who types the number of a pack means the batch that was scanned before.
func (k *ReceiptFacts) ofProduct(b Batch) Batch {
	if b.Product != 0 || b.BatchNo == "" || b.Serial != "" {
		return b
	}
	known := 0
	for of := range k.numbers {
		if of.batchNo == b.BatchNo {
			known, b.Product = known+1, of.product
		}
	}
	if known > 1 {
		b.Product = 0
	}
	return b
}

// Settle brings what is printed on units and the earlier record of their batch into agreement as a receipt asks. Where
// it does not ask, the same batch with another date is a conflict that says what the earlier record has; and a serial
// number is received once, unless the device is at its supplier again: it comes as what it was. Which products a file
// names is taken as it stands.
func (k *ReceiptFacts) Settle(in Receipt, b Batch) (ReceiptPlan, error) {
	if !in.Opening {
		b = k.ofProduct(b)
	}
	old, was := k.like(b), Lot{}
	if old != nil {
		was = k.back[old.ID]
		b.Product = cmp.Or(b.Product, was.Product)
	}
	switch {
	case old == nil:
		b.Withdrawn, b.InspectBy = RecordUnder(b, k.notices, 0)
		return ReceiptPlan{Batch: &b}, nil
	case b.Serial != "" && was.ID == 0:
		return ReceiptPlan{}, ErrReceived
	case old.Facts() == b.saidAs(old.EndWording) || in.OnConflict == KeepEarlier:
		return ReceiptPlan{Batch: old, Clocks: was.Clocks}, nil
	case in.OnConflict == "":
		return ReceiptPlan{}, errOtherDates(*old)
	}
	var ps Problems
	CheckText(&ps, "correction_reason", in.CorrectionReason, true, MaxNote)
	b = old.Corrected(b)
	b.Withdrawn, b.InspectBy = RecordUnder(b, k.notices, 0)
	return ReceiptPlan{Batch: &b, Corrects: old, Because: in.CorrectionReason, Clocks: was.Clocks}, ps.Err()
}

// saidAs is what is printed on units whose wording nobody recorded, if it were the one that is known.
func (b Batch) saidAs(known Wording) BatchFacts {
	if b.EndWording == WordUnstated {
		b.EndWording = known
	}
	return b.Facts()
}

// errOtherDates offers both ways out where a batch was received before with other dates.
func errOtherDates(old Batch) error {
	return &Error{Kind: Conflict, Cause: OtherDates{old},
		Fields:  []Field{{Path: "on_conflict", Fix: message.M("check the pack")}},
		Message: message.M("recorded before with {1}: check the pack, keep or correct", old.DatesText())}
}

// OtherDates is the earlier record that a pack does not agree with.
type OtherDates struct{ Old Batch }

func (OtherDates) Error() string { return "received before with other dates" }

// ErrReceived refuses a serial number that is known.
var ErrReceived = Refuse(Conflict, "serial number received before")

// DatesText says in words what dates a batch bears.
func (b Batch) DatesText() message.Message {
	end := message.M("no date")
	if b.EndPrinted != "" {
		end = endText(b.Facts())
	}
	if b.MadeOn != 0 {
		return message.M("{1}, made {2}", end, b.MadeOn)
	}
	return end
}
