package inventory

import "cmp"

// Receipt is units coming in from a supplier.
type Receipt struct {
	Place            string     `json:"place" doc:"Place code, usually a store"`
	Barcode          string     `json:"barcode,omitempty" maxLength:"7200" doc:"Text of the code, separators as ASCII 29"`
	Packs            int        `json:"packs,omitempty" minimum:"1" maximum:"10000" doc:"With a barcode: how many packs"`
	Item             string     `json:"item,omitempty" doc:"Item code; without a barcode it is needed"`
	Product          int64      `json:"product,omitempty" doc:"Product id, where known"`
	BatchNo          string     `json:"batch_no,omitempty" maxLength:"40" doc:"Batch number as printed"`
	Serial           string     `json:"serial,omitempty" maxLength:"40" doc:"Serial number as printed, for a device"`
	MadeOn           string     `json:"made_on,omitempty" doc:"Date of manufacture as printed: YYYY-MM or YYYY-MM-DD"`
	EndPrinted       string     `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD"`
	EndWording       Wording    `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before"`
	Qty              int        `json:"qty,omitempty" minimum:"1" maximum:"1000000" doc:"Units"`
	Reference        string     `json:"reference,omitempty" maxLength:"120" doc:"Order or delivery note"`
	Note             string     `json:"note,omitempty" maxLength:"2000"`
	HappenedAt       Instant    `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	OnConflict       OnConflict `json:"on_conflict,omitempty" enum:"keep,correct" doc:"With another date"`
	CorrectionReason string     `json:"correction_reason,omitempty" maxLength:"2000" doc:"With correct: why"`
	Unidentified     bool       `json:"unidentified,omitempty" doc:"No batch or date readable: quarantine only"`
	Opening          bool       `json:"-"` // stock counted in when the service starts
	Unworded         bool       `json:"-"` // a medicine's date may come without its wording: found, or from a file
}

// Batch reads what the pack says, with all that is wrong with it. Refuses: Invalid by field.
func (in Receipt) Batch(it Item, day Day) (Batch, error) {
	in.BatchNo, in.Serial = OneLine(in.BatchNo), OneLine(in.Serial)
	b := Batch{Item: it.Code, Product: in.Product, BatchNo: in.BatchNo, Serial: in.Serial, EndPrinted: in.EndPrinted,
		EndWording: in.EndWording}
	var ps Problems
	CheckText(&ps, "batch_no", in.BatchNo, false, 40)
	CheckText(&ps, "serial", in.Serial, false, 40)
	CheckText(&ps, "reference", in.Reference, false, MaxName)
	CheckText(&ps, "note", in.Note, false, MaxNote)
	ps.When(in.Qty < 1 || in.Qty > MaxQty, "qty", "enter {1} to {2}", 1, MaxQty)
	ps.When(in.OnConflict != "" && in.OnConflict != KeepEarlier && in.OnConflict != CorrectEarlier, "on_conflict",
		"choose one of {1}", "keep, correct")
	if in.Unidentified {
		ps.When(in.BatchNo+in.Serial+in.MadeOn+in.EndPrinted != "", "unidentified", "leave batch number and date empty")
		return Batch{Item: it.Code, Product: in.Product}, ps.Err()
	}
	ps.When(it.TrackedBy == BySerial && in.Serial == "", "serial", "enter the serial number")
	ps.When(it.TrackedBy == BySerial && in.Qty > 1, "qty", "one device at a time")
	ps.When(it.TrackedBy == ByLot && in.Serial != "", "serial", "leave empty: only for devices")
	ps.When(it.Dated && in.BatchNo == "" && in.Serial == "", "batch_no",
		"enter the batch number, or put the units in quarantine")
	ps.When(!it.Dated && in.EndPrinted != "" && in.BatchNo == "" && in.Serial == "", "batch_no",
		"enter the batch number as printed")
	ps.When(it.Dated && in.EndPrinted == "", "end_printed", "enter the printed date, or put the units in quarantine")
	if in.EndPrinted != "" && in.EndWording == "" && it.Category.Medicinal() {
		b.EndWording = WordUnstated
	}
	ps.When(b.EndWording == WordUnstated && !in.Unworded, "end_wording", "choose the date wording on the pack")
	in.readDates(&ps, &b, it, day)
	return b, ps.Err()
}

// readDates reads what the printed dates mean.
func (in Receipt) readDates(ps *Problems, b *Batch, it Item, day Day) {
	if in.EndPrinted != "" {
		if b.EndWording == "" {
			b.EndWording = WordExpiry
		}
		last, err := LastUsable(in.EndPrinted, b.EndWording, it.Category)
		b.LastUsable = last
		ps.Take("", err)
	}
	if in.MadeOn != "" {
		made, err := ParseMade(in.MadeOn)
		b.MadeOn = made
		ps.When(err != nil, "made_on", "enter a date like 2027-06 or 2027-06-14")
		ps.When(made > day, "made_on", "enter a past date")
		ps.When(b.LastUsable != 0 && made > b.LastUsable, "made_on", "enter a day before the printed date")
	}
}

// Carried is what units that are counted in had behind them already.
type Carried struct {
	Clocks
	ReceivedOn Day      // 0 for the day of the receipt
	Numbers    []string // that their batch was recorded with before: recalls know it by them
}

// formerly is what a batch was recorded as before.
func (c Carried) formerly(b Batch) []BatchFacts {
	var out []BatchFacts
	for _, n := range c.Numbers {
		was := BatchFacts{Item: b.Item, Product: b.Product, BatchNo: n}
		if b.Serial != "" {
			was.BatchNo, was.Serial = "", n
		}
		out = append(out, was)
	}
	return out
}

// Check refuses clocks that cannot have run like that: days that lie ahead,
// and units that are exposed without lying on a carrier.
func (c Carried) Check(it Item, place Place, today Day) error {
	const past = "enter a past date"
	var ps Problems
	for _, n := range c.Numbers {
		CheckText(&ps, "former_numbers", n, true, 40)
	}
	ps.When(c.ReceivedOn > today, "received_on", past)
	ps.When(c.StowedOn > today, "stowed_on", past)
	ps.When(c.OpenedOn > today, "opened_on", past)
	ps.When(c.ExposedSince > today, "exposed_since", past)
	ps.When(c.ExposedLast > today, "exposed_last", past)
	ps.When(c.ExposedSince != 0 && place.Kind != KindCarrier, "exposed_since", "leave empty: only for carriers")
	ps.When(c.ExposedDays < 0 || c.ExposedDays > 36500, "exposed_days", "enter {1} to {2}", 0, 36500)
	ps.When(c.ExposedDays > 0 && c.ExposedLast == 0, "exposed_last", "enter the last of these days")
	ps.When(c.OpenedOn != 0 && it.Life.OpenedDays == 0, "opened_on", "leave empty: no limit after opening")
	return ps.Err()
}

// ReceiptPlan is what a receipt comes to. Plans of one batch share it, so that it is made once.
type ReceiptPlan struct {
	Batch      *Batch // with no id where it is to be made
	Corrects   *Batch // the earlier record, where that is wrong
	Because    string // why it is wrong
	Clocks     Clocks
	ReceivedOn Day
	Movement   Movement // but for its lot
}

// JudgeReceipt tells what becomes of units that come into a place on a day, or why they may not: an Invalid error for
// what the pack or the request says, a Conflict for what the rules forbid there. Signatures are judged when it is
// booked.
func JudgeReceipt(in Receipt, had Carried, place Place, day Day, k *ReceiptFacts) (ReceiptPlan, error) {
	b, err := in.Batch(k.Item, day)
	if err := MergeErrors(err, had.Check(k.Item, place, day), k.has(in.Product)); err != nil {
		return ReceiptPlan{}, err
	}
	b.Formerly = had.formerly(b)
	plan, err := k.Settle(in, b)
	if err != nil {
		return plan, err
	}
	if !in.Opening {
		if err := fitToReceive(k.Item, *plan.Batch, place, day); err != nil {
			return plan, err
		}
	}
	reason := ReasonReceipt
	if in.Opening {
		reason = ReasonOpening
	}
	plan.Clocks, plan.ReceivedOn = cmp.Or(had.Clocks, plan.Clocks), cmp.Or(had.ReceivedOn, day)
	plan.Clocks.Training = plan.Clocks.Training || place.Purpose == ForTraining
	plan.Clocks.Unidentified = in.Unidentified
	plan.Movement = Movement{Qty: in.Qty, From: string(KindSupplier), To: place.Code, Reason: reason,
		HappenedAt: in.HappenedAt, Reference: in.Reference, Note: in.Note}
	if len(plan.Batch.Withdrawn) > 0 && place.Kind != KindQuarantine {
		return plan, Refuse(Conflict, "under notice {1}: receive into quarantine", plan.Batch.Withdrawn[0])
	}
	if err := Allowed(OutsidePlace(KindSupplier), place, reason, ""); err != nil {
		return plan, err
	}
	return plan, AllowedLot(k.Item, Lot{Batch: *plan.Batch, Clocks: plan.Clocks}, place, reason)
}

// fitToReceive refuses expired stock into a store of issue stock, and expired medicines into a training store as
// well. What is counted in when the service starts is not asked: it may have expired where it lies.
func fitToReceive(it Item, b Batch, place Place, day Day) error {
	switch {
	case place.Kind == KindQuarantine || !PastEnd(it, Lot{Batch: b}, day):
		return nil
	case it.Category.Medicinal():
		return Refuse(Conflict, "expired: put it in quarantine")
	case place.Purpose == ForTraining:
		return nil
	}
	return Refuse(Conflict, "expired: put it in quarantine or training")
}
