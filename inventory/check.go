package inventory

import "stowkeeper/inventory/message"

// CheckKind is the kind of a crew's check.
type CheckKind string

// The kinds of check.
const (
	SealCheck CheckKind = "seal"
	FullCheck CheckKind = "full"
)

// RecordStatus says whether a check or use has been posted.
type RecordStatus string

// The statuses of a check or use.
const (
	StatusAccepted RecordStatus = "accepted"  // it counts
	StatusToReview RecordStatus = "to_review" // kept whole, posting nothing, until a quartermaster decides
	StatusRejected RecordStatus = "rejected"  // kept, and decided not to count

	StatusWithdrawn RecordStatus = "withdrawn" // kept, and taken back by who recorded it
)

// Check is a crew's record of looking at a bag.
type Check struct {
	ID              int64           `json:"id"`
	Bag             string          `json:"bag"`
	Kind            CheckKind       `json:"kind" enum:"seal,full"`
	HappenedAt      Instant         `json:"happened_at" format:"date-time"`
	RecordedAt      Instant         `json:"recorded_at" format:"date-time"`
	By              string          `json:"by"`
	SentBy          string          `json:"sent_by,omitempty" doc:"Who sent it: by is said to be so, not confirmed"`
	SeenPosition    int64           `json:"seen_position" doc:"The bag's position that the crew saw"`
	SealSeen        string          `json:"seal_seen,omitempty"`
	SealBroken      bool            `json:"seal_broken,omitempty"`
	SealSet         string          `json:"seal_set,omitempty"`
	Lines           []CheckLine     `json:"lines,omitempty"`
	Found           []FoundLine     `json:"found,omitempty"`
	Inspections     []InspectedLine `json:"inspections,omitempty"`
	Note            string          `json:"note,omitempty"`
	ReturnToService bool            `json:"return_to_service,omitempty" doc:"With a full check: return the bag to service"`
	NotCounted      int             `json:"not_counted,omitempty" doc:"Lines not counted in a full check: it is partial"`
	Status          RecordStatus    `json:"status" enum:"accepted,to_review,rejected,withdrawn"`
	ReviewBecause   message.Message `json:"review_because,omitempty"`
	Decision        *Decision       `json:"decision,omitempty"`
	StillReported   []UnderReview   `json:"under_review,omitempty" doc:"Of a seal check: reports that it does not settle"`
}

// Whose says whose it is, or is said to be.
func (c Check) Whose() message.Message { return Whose(c.By, c.SentBy) }

// Whole tells whether a check is a full check that counted everything. A partial one says nothing of the lots that it
// does not name, and neither renews nor settles what a look at the whole bag does.
func (c Check) Whole() bool { return c.Kind == FullCheck && c.NotCounted == 0 }

// Asks returns how many units of each lot a check must account for, of those that should have been found: all, or
// those of the lots that a partial check names.
func (c Check) Asks(expected map[int64]int) map[int64]int {
	if c.NotCounted == 0 {
		return expected
	}
	out := map[int64]int{}
	for _, l := range c.Lines {
		out[l.LotID] = expected[l.LotID]
	}
	return out
}

// CheckLine is what a full check counted of one lot that should be there.
type CheckLine struct {
	LotID    int64       `json:"lot_id"`
	Counted  int         `json:"counted" minimum:"0" maximum:"1000000"`
	Reason   CountReason `json:"reason,omitempty" enum:"used,missing,damaged,expired,found" doc:"Why the count differs"`
	Incident string      `json:"incident,omitempty" doc:"Incident reference for what was used; never patient data"`
	Expected *int        `json:"expected,omitempty" minimum:"0" maximum:"1000000" doc:"What the checklist showed there"`
	CameFrom string      `json:"came_from,omitempty" doc:"For more than expected: the bag that it was taken from"`
}

// CountReason says why a count differs from the ledger.
type CountReason string

// The reasons for a difference.
const (
	CountUsed    CountReason = "used"
	CountMissing CountReason = "missing"
	CountDamaged CountReason = "damaged"
	CountExpired CountReason = "expired" // expired and removed
	CountFound   CountReason = "found"
)

// FoundLine is something found in a bag that the ledger does not have there.
type FoundLine struct {
	Item         string      `json:"item" doc:"Item code"`
	Product      int64       `json:"product,omitempty"`
	BatchNo      string      `json:"batch_no,omitempty"`
	Serial       string      `json:"serial,omitempty"`
	EndPrinted   string      `json:"end_printed,omitempty"`
	EndWording   Wording     `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before"`
	Qty          int         `json:"qty" minimum:"1" maximum:"10000"`
	Reason       FoundReason `json:"reason,omitempty" enum:"found,training_mark" doc:"training_mark: a training device"`
	Unidentified bool        `json:"unidentified,omitempty" doc:"No batch or date to be read: to quarantine"`
	CameFrom     string      `json:"came_from,omitempty" doc:"The bag that it was taken from"`
	LotID        int64       `json:"lot_id,omitempty" doc:"With came_from: the lot_id there"`
}

// FoundReason says what was found.
type FoundReason string

// The reasons of a found line.
const (
	FoundStock        FoundReason = "found"
	FoundTrainingMark FoundReason = "training_mark"
)

// InspectedLine is an inspection done as part of a check.
type InspectedLine struct {
	LotID  int64        `json:"lot_id"`
	Points []PointCheck `json:"points"`
}

// PointCheck is the outcome of one inspection point.
type PointCheck struct {
	Point string `json:"point"`
	Pass  bool   `json:"pass"`
	Note  string `json:"note,omitempty"`
}

// Decision is what a quartermaster decided of a waiting check or use.
type Decision struct {
	Decision   DecisionKind `json:"decision" enum:"accept,edit,reject,withdraw"`
	Reason     string       `json:"reason"`
	By         string       `json:"by"`
	RecordedAt Instant      `json:"recorded_at" format:"date-time"`
	Counts     []CheckLine  `json:"counts,omitempty" doc:"The edited counts"`
	Found      []FoundLine  `json:"found,omitempty" doc:"The edited finds"`

	Inspections []InspectedLine `json:"inspections,omitempty" doc:"The edited inspections"`

	Used []UseLine `json:"used,omitempty" doc:"The edited use"`
}

// DecisionKind is the kind of a decision.
type DecisionKind string

// The kinds of decision.
const (
	DecideAccept DecisionKind = "accept"
	DecideEdit   DecisionKind = "edit"
	DecideReject DecisionKind = "reject"

	DecideWithdraw DecisionKind = "withdraw" // by who recorded it
)
