package inventory

// BatchFacts is what is printed on the units of a batch and may be typed
// wrongly.
type BatchFacts struct {
	LotNo      string  `json:"lot_no,omitempty"`
	Serial     string  `json:"serial,omitempty"`
	MadeOn     Day     `json:"made_on,omitempty" format:"date"`
	EndPrinted string  `json:"end_printed,omitempty"`
	EndWording Wording `json:"end_wording,omitempty"`
}

// BatchCorrection is a dated correction of what was typed of a batch: the
// records show it for ever, beside what is true now.
type BatchCorrection struct {
	ID      int64      `json:"id"`
	BatchID int64      `json:"batch_id"`
	At      Instant    `json:"at" format:"date-time"`
	By      string     `json:"by"`
	Reason  string     `json:"reason"`
	Old     BatchFacts `json:"old"`
	New     BatchFacts `json:"new"`
}

// facts returns what is printed on a batch.
func (b Batch) facts() BatchFacts {
	return BatchFacts{LotNo: b.LotNo, Serial: b.Serial, MadeOn: b.MadeOn, EndPrinted: b.EndPrinted, EndWording: b.EndWording}
}
