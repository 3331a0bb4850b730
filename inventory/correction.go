package inventory

import (
	"cmp"
	"strings"
)

// BatchFacts is what is printed on the units of a batch and may be typed
// wrongly.
type BatchFacts struct {
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
}

// Facts returns what is printed on a batch.
func (b Batch) Facts() BatchFacts {
	return BatchFacts{BatchNo: b.BatchNo, Serial: b.Serial, MadeOn: b.MadeOn, EndPrinted: b.EndPrinted,
		EndWording: b.EndWording}
}

// LotCorrection is what the pack really says, where it was typed wrongly;
// fields left out stay.
type LotCorrection struct {
	BatchNo    *string  `json:"batch_no,omitempty" maxLength:"40" doc:"Batch number as printed"`
	Serial     *string  `json:"serial,omitempty" maxLength:"40" doc:"Serial number as printed, for a device"`
	MadeOn     *string  `json:"made_on,omitempty" doc:"As printed: YYYY-MM or YYYY-MM-DD; empty for none"`
	EndPrinted *string  `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD, or empty for none"`
	EndWording *Wording `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before"`
	Reason     string   `json:"reason" maxLength:"2000" doc:"Why: what was looked at, and by whom it had been mistyped"`
}

// Applied returns the batch as a receipt of it would read after the
// correction.
func (c LotCorrection) Applied(b Batch) Receipt {
	in := Receipt{Item: b.Item, Product: b.Product, BatchNo: b.BatchNo, Serial: b.Serial, MadeOn: b.MadeOn.String(),
		EndPrinted: b.EndPrinted,
		EndWording: b.EndWording, Qty: 1}
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
func CorrectionText(c BatchCorrection) string {
	var parts []string
	differ := func(what, old, now string) {
		if old != now {
			parts = append(parts, what+" "+orNone(old)+" to "+orNone(now))
		}
	}
	differ("batch number", c.Old.BatchNo, c.New.BatchNo)
	differ("serial number", c.Old.Serial, c.New.Serial)
	differ("made on", c.Old.MadeOn.String(), c.New.MadeOn.String())
	differ("printed end", endText(c.Old), endText(c.New))
	return "corrected: " + strings.Join(parts, ", ") + ", because: " + c.Reason
}

func orNone(s string) string { return cmp.Or(s, "none") }

func endText(f BatchFacts) string {
	if f.EndPrinted == "" {
		return ""
	}
	return f.EndWording.Text() + " " + f.EndPrinted
}

// OnConflict says what a receipt does where the same batch was received with
// another date.
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
