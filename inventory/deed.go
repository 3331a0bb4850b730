package inventory

import (
	"context"
)

// DeedKind is what sort of thing somebody did.
type HistoryKind string

// The kinds of deed: what was done to stock and bags, to what the service
// keeps, and to people and their ways in.
const (
	DeedMovement          HistoryKind = "movement"
	DeedSealCheck         HistoryKind = "seal_check"
	DeedFullCheck         HistoryKind = "full_check"
	DeedUse               HistoryKind = "use"
	DeedCheckDecided      HistoryKind = "check_decided"
	DeedUseDecided        HistoryKind = "use_decided"
	DeedRestock           HistoryKind = "restock"
	DeedSeal              HistoryKind = "seal"
	DeedBagChanged        HistoryKind = "bag_changed"
	DeedVehicle           HistoryKind = "vehicle"
	DeedObservation       HistoryKind = "observation"
	DeedObservationClosed HistoryKind = "observation_closed"
	DeedInspection        HistoryKind = "inspection"
	DeedTrainingUse       HistoryKind = "training_use"
	DeedBatchCorrected    HistoryKind = "batch_corrected"
	DeedNotice            HistoryKind = "notice"
	DeedDelivery          HistoryKind = "delivery"
	DeedBalance           HistoryKind = "balance_check"
	DeedSigned            HistoryKind = "entry_signed"
	DeedPastUsage         HistoryKind = "past_usage"
	DeedSite              HistoryKind = "site"
	DeedPlace             HistoryKind = "place"
	DeedBag               HistoryKind = "bag"
	DeedItem              HistoryKind = "item"
	DeedProduct           HistoryKind = "product"
	DeedKitList           HistoryKind = "kit_list"
	DeedCategory          HistoryKind = "category"
	DeedSheetOffset       HistoryKind = "sheet_offset"

	DeedSignedIn         HistoryKind = "signed_in"
	DeedSignedOut        HistoryKind = "signed_out"
	DeedSignedOutAll     HistoryKind = "signed_out_everywhere"
	DeedLocked           HistoryKind = "sign_in_locked"
	DeedSignRefused      HistoryKind = "signature_refused"
	DeedPersonAdded      HistoryKind = "person_added"
	DeedPersonChanged    HistoryKind = "person_changed"
	DeedSecretSet        HistoryKind = "secret_set"
	DeedTokenAdded       HistoryKind = "token_added"
	DeedTokenRevoked     HistoryKind = "token_revoked"
	DeedTerminalAdded    HistoryKind = "terminal_added"
	DeedTerminalEnrolled HistoryKind = "terminal_enrolled"
	DeedTerminalRevoked  HistoryKind = "terminal_revoked"
)

// Deed is one line of the history: who did what, when and from which terminal.
// It is written in the unit of work that did it, so neither is without the
// other.
type HistoryEntry struct {
	ID         int64    `json:"id"`
	RecordedAt         Instant  `json:"at" format:"date-time"`
	By         string   `json:"by,omitempty" doc:"Person, or program with a token; missing for somebody unknown"`
	From       string   `json:"from,omitempty" doc:"The terminal, or the browser in short; missing before terminals were kept"`
	Kind       HistoryKind `json:"kind" doc:"What was done, as in movement, full_check, signed_in"`
	Site       string   `json:"site,omitempty" doc:"Where; missing for what belongs to no site"`
	Place      string   `json:"place,omitempty" doc:"The bag or place; of a movement, where it came from"`
	OtherPlace string   `json:"other_place,omitempty" doc:"Of a movement, where it went"`
	LotID      int64    `json:"lot_id,omitempty"`
	BatchID    int64    `json:"batch_id,omitempty"`
	Person     string   `json:"person,omitempty" doc:"Person or program that it was done to"`
	Detail     string   `json:"detail,omitempty"`
}

// DeedFilter narrows the history; empty fields do not narrow.
type HistoryFilter struct {
	Place  string // a bag or place, at either end of a movement
	LotNo  string // batch or serial number
	Person string // who did it, or to whom
	Day    Day    // in the zone of the first of the actor's sites, UTC for none

	Kinds         []HistoryKind // set by verify: only these
	Sites         []string   // set by the use case: these, and what belongs to none
	Not           []HistoryKind // set by the use case: kinds left out
	Since, Before Instant    // set by the use case from Day
}

type actingKey struct{}

// Acting tells the history who acts, and from where, in everything that is done
// with the context.
func Acting(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actingKey{}, a)
}

func ActingIn(ctx context.Context) Actor {
	a, _ := ctx.Value(actingKey{}).(Actor)
	return a
}
