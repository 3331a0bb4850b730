package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// Moves are movements to be posted together.
type Moves struct {
	Movements []Move `json:"movements" minItems:"1" maxItems:"1000" doc:"All of them happen or none does"`
	account.Signing
}

// Move is one movement to be posted.
type Move struct {
	LotID      int64             `json:"lot_id"`
	Qty        int               `json:"qty" minimum:"1" maximum:"1000000"`
	From       string            `json:"from" doc:"Place code"`
	To         string            `json:"to" doc:"Place code, or used, disposed, lost"`
	Reason     inventory.Reason  `json:"reason"`
	Cause      inventory.Cause   `json:"cause,omitempty" enum:"expired,damaged,wasted,training,recalled,missing,other"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Reference  string            `json:"reference,omitempty" doc:"Incident, order or document; never patient data"`
	Note       string            `json:"note,omitempty"`
	Corrects   int64             `json:"corrects,omitempty" doc:"For a correction: the movement that it exactly undoes"`
	Authorised string            `json:"authorised_by,omitempty" maxLength:"120" doc:"Who has a controlled item destroyed"`
}

func (s *server) recordMovements(ctx context.Context, in *Posted[Moves]) (listOf[inventory.Movement], error) {
	ms := make([]inventory.Movement, 0, len(in.Body.Movements))
	for _, m := range in.Body.Movements {
		ms = append(ms, inventory.Movement{LotID: m.LotID, Qty: m.Qty, From: m.From, To: m.To, Reason: m.Reason,
			Cause: m.Cause, HappenedAt: m.HappenedAt, Reference: m.Reference, Note: m.Note, Corrects: m.Corrects,
			AuthorisedBy: m.Authorised})
	}
	done, err := s.svc.Ledger.Move(ctx, by(ctx), ms)
	return listOf[inventory.Movement]{Data: done}, err
}

type movementQuery struct {
	Paging
	Station   string      `query:"station" doc:"Station code"`
	Place     string      `query:"place" doc:"Place code: from it or to it"`
	LotID     int64       `query:"lot_id" minimum:"0"`
	Item      string      `query:"item" doc:"Item code"`
	Reason    reasonAsked `query:"reason"`
	Reference string      `query:"reference" doc:"Incident, order or document"`
	Newest    bool        `query:"newest" doc:"Newest first"`
}

func (s *server) listMovements(ctx context.Context, in *movementQuery) (*listed[inventory.Movement], error) {
	f := inventory.MovementFilter{Stations: codes(in.Station), Place: inventory.NormalCode(in.Place), LotID: in.LotID,
		Item: inventory.NormalCode(in.Item), Reason: inventory.Reason(in.Reason), Newest: in.Newest}
	if in.Reference != "" {
		f.References = []string{in.Reference}
	}
	return listByID(ctx, in.Paging, f, s.svc.Ledger.Movements, func(m inventory.Movement) int64 { return m.ID })
}
