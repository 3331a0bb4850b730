package inventory

import "stowkeeper/inventory/message"

// ObservationKind is the kind of an observation.
type ObservationKind string

// The kinds of observation.
const (
	SawTrainingMark ObservationKind = "training_mark"
	SawOtherSeal    ObservationKind = "other_seal"
	SawFailedPoint  ObservationKind = "failed_point"
	SawUnidentified ObservationKind = "unidentified"
)

// Observation is something seen that the ledger may not hold, open until a quartermaster closes it with a reason.
type Observation struct {
	ID          int64           `json:"id"`
	Bag         string          `json:"bag"`
	Kind        ObservationKind `json:"kind" enum:"training_mark,other_seal,failed_point,unidentified"`
	Item        string          `json:"item,omitempty"`
	LotID       int64           `json:"lot_id,omitempty"`
	Text        message.Message `json:"text"`
	Source      string          `json:"source" doc:"What it was recorded with: check 12"`
	OpenedAt    Instant         `json:"opened_at" format:"date-time"`
	OpenedBy    string          `json:"opened_by"`
	ClosedAt    Instant         `json:"closed_at,omitempty" format:"date-time"`
	ClosedBy    string          `json:"closed_by,omitempty"`
	CloseReason string          `json:"close_reason,omitempty"`
}
