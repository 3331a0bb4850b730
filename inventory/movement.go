package inventory

import (
	"time"

	"stowkeeper/inventory/message"
)

// Reason says why units moved.
type Reason string

// The reasons.
const (
	ReasonReceipt    Reason = "receipt"
	ReasonOpening    Reason = "opening" // stock counted in when the service starts
	ReasonStow       Reason = "stow"
	ReasonReturn     Reason = "return"
	ReasonTransfer   Reason = "transfer"
	ReasonToTraining Reason = "to_training" // there is no way back
	ReasonQuarantine Reason = "quarantine"
	ReasonRelease    Reason = "release"
	ReasonAway       Reason = "away"
	ReasonUsed       Reason = "used"
	ReasonDisposed   Reason = "disposed"
	ReasonLost       Reason = "lost"
	ReasonFound      Reason = "found"
	ReasonCorrection Reason = "correction"
	ReasonToSupplier Reason = "to_supplier" // under the number of a credit or return note
	ReasonConverted  Reason = "converted"   // out in the old unit of count, and back in the new one
)

// Reasons lists every reason.
var Reasons = []Reason{
	ReasonReceipt, ReasonOpening, ReasonStow, ReasonReturn, ReasonTransfer, ReasonToTraining, ReasonQuarantine,
	ReasonRelease, ReasonAway, ReasonUsed, ReasonDisposed, ReasonLost, ReasonFound, ReasonCorrection,
	ReasonToSupplier, ReasonConverted,
}

// NeedsReference tells whether units move for this reason only under the number of a document.
func (r Reason) NeedsReference() bool { return r == ReasonToSupplier }

// Movement is a quantity of one lot going from one place to another: the only
// way in which stock ever changes. It is never edited or deleted.
type Movement struct {
	ID         int64   `json:"id"`
	Station    string  `json:"station" doc:"The station whose chain it belongs to"`
	Seq        int64   `json:"seq" doc:"Its number in that chain, from 1"`
	LotID      int64   `json:"lot_id"`
	IntoLotID  int64   `json:"into_lot_id" doc:"The units' lot_id after it; another where a clock starts"`
	Qty        int     `json:"qty" minimum:"1"`
	From       string  `json:"from"`
	To         string  `json:"to"`
	Reason     Reason  `json:"reason"`
	Cause      Cause   `json:"cause,omitempty"`
	HappenedAt Instant `json:"happened_at" format:"date-time"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
	By         string  `json:"by"`
	Witness    string  `json:"witness,omitempty"`
	Reference  string  `json:"reference,omitempty" doc:"Incident, order or document; never patient data"`
	Note       string  `json:"note,omitempty"`
	Corrects   int64   `json:"corrects,omitempty" doc:"The movement that it exactly undoes"`
	PrevHash   string  `json:"-"`
	Hash       string  `json:"hash" doc:"SHA-256 over the previous hash of the chain and this row, in hexadecimal"`

	Owed    bool `json:"-"` // of a controlled item, made alone: a second person has still to sign
	OwnOwed bool `json:"-"` // and so has the person who made it

	AuthorisedBy string          `json:"-"` // of a destruction, until it stands in the note
	Doubt        message.Message `json:"-"` // what of it does not add up, which nobody has reviewed
}

// ChainStation returns the station whose chain a movement between two places belongs
// to: that of from, or of to when from lies outside.
func ChainStation(from, to Place) string {
	if from.Outside() {
		return to.Station
	}
	return from.Station
}

// MaxQty is the most units that one movement carries.
const MaxQty = 1_000_000

// MaxLineQty is the most units in one line of what was found or used.
const MaxLineQty = 10_000

// ClockSkew is how far ahead a phone's clock may be before a time counts as lying in the future.
const ClockSkew = 5 * time.Minute

// Earliest is the first instant that falls on a day in range in every zone.
var Earliest = InstantOf(time.Date(1900, 1, 2, 0, 0, 0, 0, time.UTC))

type PlaceLot struct {
	Place string
	Lot   int64
}

// Lacking names the first lot of which a place holds less than the movements
// take from it; ok is false where nothing is lacking. held is by place and lot.
func Lacking(ms []Movement, held map[PlaceLot]int) (lot int64, place string, ok bool) {
	left := map[PlaceLot]int{}
	for _, m := range ms {
		k := PlaceLot{m.From, m.LotID}
		if _, seen := left[k]; !seen {
			left[k] = held[k]
		}
		if OutsideCode(m.From) {
			continue
		}
		if left[k] -= m.Qty; left[k] < 0 {
			return m.LotID, m.From, true
		}
	}
	return 0, "", false
}

// WithNote puts a remark before a note.
func WithNote(remark, note string) string {
	if note == "" {
		return remark
	}
	if remark == "" {
		return note
	}
	return remark + "; " + note
}
