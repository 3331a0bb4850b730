package inventory

import (
	"slices"

	"stowkeeper/inventory/message"
)

// BatchFacts is what is printed on the units of a batch and may be typed wrongly.
type BatchFacts struct {
	Item       string  `json:"item,omitempty" doc:"Item code; missing in what was corrected before items could be"`
	Product    int64   `json:"product,omitempty" doc:"Product id, where known"`
	BatchNo    string  `json:"batch_no,omitempty"`
	Serial     string  `json:"serial,omitempty"`
	MadeOn     Day     `json:"made_on,omitempty" format:"date"`
	EndPrinted string  `json:"end_printed,omitempty"`
	EndWording Wording `json:"end_wording,omitempty"`
}

// BatchCorrection is a dated correction of what was typed of a batch: the
// records show it for ever, beside what is true now.
type BatchCorrection struct {
	ID         int64      `json:"id"`
	BatchID    int64      `json:"batch_id"`
	RecordedAt Instant    `json:"recorded_at" format:"date-time"`
	By         string     `json:"by"`
	Reason     string     `json:"reason"`
	Old        BatchFacts `json:"old"`
	New        BatchFacts `json:"new"`
	Merged     int64      `json:"merged,omitempty" doc:"The other batch, where the two turned out to be one"`
}

// Facts returns what is printed on a batch.
func (b Batch) Facts() BatchFacts {
	return BatchFacts{Item: b.Item, Product: b.Product, BatchNo: b.BatchNo, Serial: b.Serial, MadeOn: b.MadeOn,
		EndPrinted: b.EndPrinted, EndWording: b.EndWording}
}

// Ever lists what is recorded of a batch now, and all that ever was.
func (b Batch) Ever() []BatchFacts { return append([]BatchFacts{b.Facts()}, b.Formerly...) }

// Corrected is a batch as a correction leaves it: the record stays the same one, and what it was before is kept.
func (b Batch) Corrected(now Batch) Batch {
	now.ID, now.MergedInto, now.BatchRecord = b.ID, b.MergedInto, b.BatchRecord
	now.Formerly = append(slices.Clone(b.Formerly), b.Facts())
	return now
}

// Merged are a batch and the one that it turned out to be, as that leaves them: both bear what is printed on the
// other, and all that either ever bore, so that notices on either hold both.
func Merged(b, into Batch) (Batch, Batch) {
	out := b.Corrected(into)
	out.MergedInto, out.Formerly = into.ID, append(out.Formerly, into.Formerly...)
	into.Formerly = append(append(slices.Clone(into.Formerly), into.Facts()), b.Ever()...)
	return out, into
}

// Twin finds the batch that has the number of another; what was merged has none of its own.
func Twin(of Batch, all []Batch) (Batch, bool) {
	i := slices.IndexFunc(all, func(b Batch) bool {
		switch {
		case b.ID == of.ID || b.Item != of.Item || b.MergedInto != 0 || of.MergedInto != 0:
			return false
		case of.Serial != "":
			return FoldNumber(b.Serial) == FoldNumber(of.Serial)
		}
		return of.BatchNo != "" && b.Serial == "" && b.BatchNo == of.BatchNo && b.Product == of.Product
	})
	if i < 0 {
		return Batch{}, false
	}
	return all[i], true
}

// ErrTwin refuses a number that another batch of the item has, unless it is said that the two are one.
var ErrTwin = &Error{Kind: Conflict, Fields: []Field{{Path: "merge",
	Fix: message.M("choose whether both are one batch")}},
	Message: message.M("another batch has this number: merge them if they are one, and recalls of either hold both")}

// LotCorrection is what the pack really says, where it was typed wrongly; fields left out stay.
type LotCorrection struct {
	Item       *string  `json:"item,omitempty" doc:"Item code: all units of the batch are of another item"`
	BatchNo    *string  `json:"batch_no,omitempty" maxLength:"40" doc:"Batch number as printed"`
	Serial     *string  `json:"serial,omitempty" maxLength:"40" doc:"Serial number as printed, for a device"`
	MadeOn     *string  `json:"made_on,omitempty" doc:"As printed: YYYY-MM or YYYY-MM-DD; empty for none"`
	EndPrinted *string  `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD, or empty for none"`
	EndWording *Wording `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before"`
	Merge      bool     `json:"merge,omitempty" doc:"With a number that another batch has: the two are one"`
	Reason     string   `json:"reason" maxLength:"2000" doc:"Why: what was looked at, and who mistyped it"`
}

// Applied returns the batch as a receipt of it would read after the correction.
func (c LotCorrection) Applied(b Batch) Receipt {
	in := Receipt{Item: b.Item, Product: b.Product, BatchNo: b.BatchNo, Serial: b.Serial, MadeOn: b.MadeOn.String(),
		EndPrinted: b.EndPrinted,
		EndWording: b.EndWording, Qty: 1, Unworded: b.EndWording == WordUnstated}
	if c.Item != nil && *c.Item != b.Item {
		in.Item, in.Product = *c.Item, 0
	}
	Set(&in.BatchNo, c.BatchNo)
	Set(&in.Serial, c.Serial)
	Set(&in.MadeOn, c.MadeOn)
	Set(&in.EndPrinted, c.EndPrinted)
	Set(&in.EndWording, c.EndWording)
	if in.EndPrinted == "" {
		in.EndWording = ""
	}
	return in
}

// CorrectionText says in words what a correction changed.
func CorrectionText(c BatchCorrection) message.Message {
	if c.Merged != 0 {
		return message.M("merged: {1} is {2}, because: {3}", identityText(c.Old), identityText(c.New), c.Reason)
	}
	var parts []message.Message
	if c.Old.Item != c.New.Item && c.Old.Item != "" {
		parts = append(parts, message.M("item {1} to {2}", c.Old.Item, c.New.Item))
	}
	if c.Old.BatchNo != c.New.BatchNo {
		parts = append(parts, message.M("batch number {1} to {2}", orNone(c.Old.BatchNo), orNone(c.New.BatchNo)))
	}
	if c.Old.Serial != c.New.Serial {
		parts = append(parts, message.M("serial number {1} to {2}", orNone(c.Old.Serial), orNone(c.New.Serial)))
	}
	if c.Old.MadeOn != c.New.MadeOn {
		parts = append(parts, message.M("made on {1} to {2}", orNone(c.Old.MadeOn), orNone(c.New.MadeOn)))
	}
	if was, is := endText(c.Old), endText(c.New); was.String() != is.String() {
		parts = append(parts, message.M("printed end {1} to {2}", was, is))
	}
	return message.M("corrected: {1}, because: {2}", message.Join(", ", parts...), c.Reason)
}

func identityText(f BatchFacts) message.Message {
	if f.EndPrinted == "" {
		return message.M("batch number {1}", orNone(f.BatchNo))
	}
	return message.M("batch number {1}, printed {2}", orNone(f.BatchNo), endText(f))
}

func orNone[T comparable](v T) any {
	if v == *new(T) {
		return message.M("none")
	}
	return v
}

// endText is a date as the pack has it, with its words.
func endText(f BatchFacts) message.Message {
	if f.EndPrinted == "" {
		return message.M("none")
	}
	switch f.EndWording {
	case WordHourglass:
		return message.M("hourglass {1}", f.EndPrinted)
	case WordUseBy:
		return message.M("use by {1}", f.EndPrinted)
	case WordUseBefore:
		return message.M("use before {1}", f.EndPrinted)
	case WordUnstated:
		return message.M("{1}, wording not recorded: check the pack", f.EndPrinted)
	}
	return message.M("expiry {1}", f.EndPrinted)
}

// OnConflict says what a receipt does where the same batch was received with another date.
type OnConflict string

// The two ways out.
const (
	KeepEarlier    OnConflict = "keep"    // the earlier record is right, the date here was misread
	CorrectEarlier OnConflict = "correct" // the earlier record is wrong, and is corrected
)

func Set[T any](field *T, v *T) {
	if v != nil {
		*field = *v
	}
}
