package inventory

import "context"

// HistoryKind is what sort of thing somebody did.
type HistoryKind string

// The kinds of history entry: what was done to stock and bags, to what the service
// keeps, and to people and their ways in.
const (
	HistoryMovement          HistoryKind = "movement"
	HistorySealCheck         HistoryKind = "seal_check"
	HistoryFullCheck         HistoryKind = "full_check"
	HistoryUse               HistoryKind = "use"
	HistoryCheckDecided      HistoryKind = "check_decided"
	HistoryUseDecided        HistoryKind = "use_decided"
	HistoryRestock           HistoryKind = "restock"
	HistorySeal              HistoryKind = "seal"
	HistoryBagChanged        HistoryKind = "bag_changed"
	HistoryVehicle           HistoryKind = "vehicle"
	HistoryObservation       HistoryKind = "observation"
	HistoryObservationClosed HistoryKind = "observation_closed"
	HistoryInspection        HistoryKind = "inspection"
	HistoryTrainingUse       HistoryKind = "training_use"
	HistoryBatchCorrected    HistoryKind = "batch_corrected"
	HistoryNotice            HistoryKind = "notice"
	HistoryDelivery          HistoryKind = "delivery"
	HistoryBalance           HistoryKind = "balance_check"
	HistoryDiscrepancy       HistoryKind = "discrepancy"
	HistoryDiscrepancyClosed HistoryKind = "discrepancy_closed"
	HistorySigned            HistoryKind = "entry_signed"
	HistoryPastUsage         HistoryKind = "past_usage"
	HistoryStation           HistoryKind = "station"
	HistoryPlace             HistoryKind = "place"
	HistoryBag               HistoryKind = "bag"
	HistoryItem              HistoryKind = "item"
	HistoryProduct           HistoryKind = "product"
	HistoryKitList           HistoryKind = "kit_list"
	HistoryCategory          HistoryKind = "category"
	HistorySheetOffset       HistoryKind = "sheet_offset"
	HistoryTransfer          HistoryKind = "transfer"
	HistoryTransferReceipt   HistoryKind = "transfer_receipt"
	HistoryCount             HistoryKind = "count"
	HistoryOrder             HistoryKind = "order"

	HistorySignedIn         HistoryKind = "signed_in"
	HistorySignedOut        HistoryKind = "signed_out"
	HistorySignedOutAll     HistoryKind = "signed_out_everywhere"
	HistoryLocked           HistoryKind = "sign_in_locked"
	HistorySignRefused      HistoryKind = "signature_refused"
	HistoryPersonAdded      HistoryKind = "person_added"
	HistoryPersonChanged    HistoryKind = "person_changed"
	HistorySecretSet        HistoryKind = "secret_set"
	HistoryTokenAdded       HistoryKind = "token_added"
	HistoryTokenRevoked     HistoryKind = "token_revoked"
	HistoryTerminalAdded    HistoryKind = "terminal_added"
	HistoryTerminalEnrolled HistoryKind = "terminal_enrolled"
	HistoryTerminalRevoked  HistoryKind = "terminal_revoked"
	HistoryClockConfirmed   HistoryKind = "clock_confirmed"

	// Rows that were written with nothing that the history tells, and rows from before the chains. No list has them.
	HistoryChanged     HistoryKind = "changed"
	HistoryEnteredLate HistoryKind = "entered_late"
)

// HistoryEntry is one line of the history: who did what, when and from which terminal. It is written in the unit of
// work that did it, so neither is without the other.
type HistoryEntry struct {
	ID         int64       `json:"id"`
	RecordedAt Instant     `json:"recorded_at" format:"date-time"`
	By         string      `json:"by,omitempty" doc:"Person, or program with a token; missing for somebody unknown"`
	From       string      `json:"from,omitempty" doc:"The terminal, or the browser in short"`
	Kind       HistoryKind `json:"kind" doc:"What was done, as in movement, full_check, signed_in"`
	Station    string      `json:"station,omitempty" doc:"Where; missing for what belongs to no station"`
	Place      string      `json:"place,omitempty" doc:"The bag or place; of a movement, where it came from"`
	OtherPlace string      `json:"other_place,omitempty" doc:"Of a movement, where it went"`
	LotID      int64       `json:"lot_id,omitempty"`
	BatchID    int64       `json:"batch_id,omitempty"`
	Person     string      `json:"person,omitempty" doc:"Person or program that it was done to"`
	Detail     string      `json:"detail,omitempty"`
}

// HistoryFilter narrows the history; empty fields do not narrow.
type HistoryFilter struct {
	Place   string // a bag or place, at either end of a movement
	BatchNo string // batch or serial number
	Person  string // who did it, or to whom
	Day     Day    // in the zone of the first of the actor's stations, UTC for none

	Only          HistoryKind   // set by the use case: no others
	Stations      []string      // set by the use case: these, and what belongs to none
	Not           []HistoryKind // set by the use case: kinds left out
	Since, Before Instant       // set by the use case from Day
}

type actingKey struct{}

// Acting tells the history who acts, and from where, in everything that is done with the context.
func Acting(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actingKey{}, a)
}

func ActingIn(ctx context.Context) Actor {
	a, _ := ctx.Value(actingKey{}).(Actor)
	return a
}
