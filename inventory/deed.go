package inventory

import (
	"context"
)

// DeedKind is what sort of thing somebody did.
type DeedKind string

// The kinds of deed: what was done to stock and bags, to what the service
// keeps, and to people and their ways in.
const (
	DeedMovement          DeedKind = "movement"
	DeedSealCheck         DeedKind = "seal_check"
	DeedFullCheck         DeedKind = "full_check"
	DeedUse               DeedKind = "use"
	DeedCheckDecided      DeedKind = "check_decided"
	DeedUseDecided        DeedKind = "use_decided"
	DeedRestock           DeedKind = "restock"
	DeedSeal              DeedKind = "seal"
	DeedBagChanged        DeedKind = "bag_changed"
	DeedVehicle           DeedKind = "vehicle"
	DeedObservation       DeedKind = "observation"
	DeedObservationClosed DeedKind = "observation_closed"
	DeedInspection        DeedKind = "inspection"
	DeedTrainingUse       DeedKind = "training_use"
	DeedBatchCorrected    DeedKind = "batch_corrected"
	DeedNotice            DeedKind = "notice"
	DeedDelivery          DeedKind = "delivery"
	DeedBalance           DeedKind = "balance_check"
	DeedSigned            DeedKind = "entry_signed"
	DeedPastUsage         DeedKind = "past_usage"
	DeedSite              DeedKind = "site"
	DeedPlace             DeedKind = "place"
	DeedBag               DeedKind = "bag"
	DeedItem              DeedKind = "item"
	DeedProduct           DeedKind = "product"
	DeedKitList           DeedKind = "kit_list"
	DeedCategory          DeedKind = "category"
	DeedSheetOffset       DeedKind = "sheet_offset"

	DeedSignedIn         DeedKind = "signed_in"
	DeedSignedOut        DeedKind = "signed_out"
	DeedSignedOutAll     DeedKind = "signed_out_everywhere"
	DeedLocked           DeedKind = "sign_in_locked"
	DeedSignRefused      DeedKind = "signature_refused"
	DeedPersonAdded      DeedKind = "person_added"
	DeedPersonChanged    DeedKind = "person_changed"
	DeedSecretSet        DeedKind = "secret_set"
	DeedTokenAdded       DeedKind = "token_added"
	DeedTokenRevoked     DeedKind = "token_revoked"
	DeedTerminalAdded    DeedKind = "terminal_added"
	DeedTerminalEnrolled DeedKind = "terminal_enrolled"
	DeedTerminalRevoked  DeedKind = "terminal_revoked"
)

// Deed is one line of the history: who did what, when and from which terminal.
// It is written in the unit of work that did it, so neither is without the
// other.
type Deed struct {
	ID         int64    `json:"id"`
	At         Instant  `json:"at" format:"date-time"`
	By         string   `json:"by,omitempty" doc:"Person, or program with a token; missing for somebody unknown"`
	From       string   `json:"from,omitempty" doc:"The terminal, or the browser in short; missing before terminals were kept"`
	Kind       DeedKind `json:"kind" doc:"What was done, as in movement, full_check, signed_in"`
	Site       string   `json:"site,omitempty" doc:"Where; missing for what belongs to no site"`
	Place      string   `json:"place,omitempty" doc:"The bag or place; of a movement, where it came from"`
	OtherPlace string   `json:"other_place,omitempty" doc:"Of a movement, where it went"`
	LotID      int64    `json:"lot_id,omitempty"`
	BatchID    int64    `json:"batch_id,omitempty"`
	Person     string   `json:"person,omitempty" doc:"Person or program that it was done to"`
	Detail     string   `json:"detail,omitempty"`
}

// DeedFilter narrows the history; empty fields do not narrow.
type DeedFilter struct {
	Place  string // a bag or place, at either end of a movement
	LotNo  string // batch or serial number
	Person string // who did it, or to whom
	Day    Day    // in the zone of the first of the actor's sites, UTC for none

	Kinds         []DeedKind // set by verify: only these
	Sites         []string   // set by the use case: these, and what belongs to none
	Not           []DeedKind // set by the use case: kinds left out
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
