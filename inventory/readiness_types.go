package inventory

import "stowkeeper/inventory/message"

// State answers the crew's question: may the bag go out?
type State string

// The states of a bag.
const (
	Ready         State = "ready"
	ReadyWithGaps State = "ready_with_gaps" // only warnings
	NotReady      State = "not_ready"       // a stop
	OutOfService  State = "out_of_service"  // by a person, with a reason
)

// Severity is how much a finding weighs.
type Severity string

// The severities.
const (
	SeverityStop Severity = "stop"
	SeverityWarn Severity = "warn"
)

// FindingKind is the kind of a finding.
type FindingKind string

// The kinds of finding.
const (
	FindBelowMinimum   FindingKind = "below_minimum"
	FindUnderNotice    FindingKind = "under_notice"
	FindKitRule        FindingKind = "kit_rule"
	FindObservation    FindingKind = "observation"
	FindSeal           FindingKind = "seal"
	FindBelowPar       FindingKind = "below_par"
	FindPastEnd        FindingKind = "past_end"
	FindEndsSoon       FindingKind = "ends_soon"
	FindNotOnList      FindingKind = "not_on_list"
	FindInspectionDue  FindingKind = "inspection_due"
	FindWornOut        FindingKind = "worn_out"
	FindSurplus        FindingKind = "surplus"
	FindSealCheckDue   FindingKind = "seal_check_overdue"
	FindFullCheckDue   FindingKind = "full_check_overdue"
	FindNoSeal         FindingKind = "no_seal"
	FindListEnded      FindingKind = "list_ended"
	FindListSuperseded FindingKind = "list_superseded" // a newer version of it is in force
	FindModule         FindingKind = "module"          // a module in it is not simply ready
	FindModuleMissing  FindingKind = "module_missing"

	FindRegister      FindingKind = "register_differs"      // of a controlled item: it does not balance
	FindSignatureOwed FindingKind = "second_signature_owed" // for entries in it

	FindUnderReview FindingKind = "report_under_review"
)

// Finding is one reason why a bag is not simply ready.
type Finding struct {
	Kind     FindingKind     `json:"kind"`
	Severity Severity        `json:"severity" enum:"stop,warn"`
	Item     string          `json:"item,omitempty"`
	LotID    int64           `json:"lot_id,omitempty"`
	Module   string          `json:"module,omitempty" doc:"Bag code of the module that it is about"`
	Qty      int             `json:"qty,omitempty" doc:"How many units it is about"`
	Date     Day             `json:"date,omitempty" format:"date" doc:"The day that decides"`
	Rule     string          `json:"rule,omitempty" doc:"The life rule or kit rule behind it"`
	Report   string          `json:"report,omitempty" doc:"The report under review that says so: check 12, use 3"`
	Text     message.Message `json:"text" doc:"The same in words"`

	category Category // what a kit rule counts, to find the lot behind it
}

// LineState is a kit list line with what the bag holds for it.
type LineState struct {
	Item             string      `json:"item"`
	Pouch            string      `json:"pouch,omitempty"`
	Par              int         `json:"par"`
	Minimum          int         `json:"minimum"`
	Critical         bool        `json:"critical,omitempty"`
	PresenceOnly     bool        `json:"presence_only,omitempty"`
	CarriedElsewhere string      `json:"carried_elsewhere,omitempty"`
	Usable           int         `json:"usable" doc:"Units that count for this line"`
	Shortfall        int         `json:"shortfall" doc:"Units missing to par"`
	Lots             []LotOnLine `json:"lots,omitempty" doc:"What is there, expired units too"`
}

// LotOnLine is a quantity of a lot that lies in the bag for a line.
type LotOnLine struct {
	LotID         int64           `json:"lot_id"`
	Item          string          `json:"item"`
	BatchNo       string          `json:"batch_no,omitempty"`
	Serial        string          `json:"serial,omitempty"`
	Qty           int             `json:"qty"`
	UsableThrough Day             `json:"usable_through,omitempty" format:"date"`
	Rule          string          `json:"rule,omitempty" doc:"The life rule that sets the date"`
	Usable        bool            `json:"usable" doc:"Whether it counts on that day"`
	InspectionDue Day             `json:"inspection_due,omitempty" format:"date" doc:"Last day for its next inspection"`
	Reported      message.Message `json:"reported,omitempty" doc:"What is under review: records 4, 2 reported used"`
}

// Change is the first day on which a bag's state gets worse if nobody acts, and the lot that causes it.
type Change struct {
	Date  Day   `json:"date" format:"date"`
	LotID int64 `json:"lot_id"`
}

// Readiness is the answer for one bag on one day.
type Readiness struct {
	Bag         string        `json:"bag"`
	AsOf        Day           `json:"as_of" format:"date" doc:"As of this day, at the bag's station"`
	HorizonDays int           `json:"horizon_days"`
	State       State         `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Findings    []Finding     `json:"findings"`
	Lines       []LineState   `json:"lines"`
	Surplus     []LotOnLine   `json:"surplus,omitempty" doc:"Usable units beyond par"`
	NotOnList   []LotOnLine   `json:"not_on_list,omitempty"`
	Modules     []ModuleState `json:"modules,omitempty" doc:"The modules inside it, each as one line"`
	NextChange  *Change       `json:"next_change,omitempty" doc:"First day on which the state gets worse if nobody acts"`
	FirstStop   *Change       `json:"first_stop,omitempty" doc:"First day on which it will not be ready if nobody acts"`
	ClockLeft   bool          `json:"clock_left_out,omitempty" doc:"Overdue checks were not judged"`
}
