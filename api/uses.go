package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// UseReport is what a crew sends of a use.
type UseReport struct {
	Incident     string              `json:"incident" doc:"Incident reference; never patient data"`
	HappenedAt   inventory.Instant   `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	SeenPosition int64               `json:"seen_position" minimum:"0" doc:"The bag's position that the crew saw"`
	SealSeen     string              `json:"seal_seen,omitempty" doc:"Number on the seal as found"`
	SealSet      string              `json:"seal_set,omitempty" doc:"Number of the new seal"`
	Lines        []inventory.UseLine `json:"lines"`
	Note         string              `json:"note,omitempty"`
	account.Signing
}

func (s *server) recordUse(ctx context.Context, in *toCode[UseReport]) (inventory.Use, error) {
	b := in.Body
	u := inventory.Use{Bag: in.code(), Incident: b.Incident, HappenedAt: b.HappenedAt, SeenPosition: b.SeenPosition,
		SealSeen: b.SealSeen, SealSet: b.SealSet, Lines: b.Lines, Note: b.Note}
	return s.svc.Shift.RecordUse(ctx, by(ctx), u, in.key())
}

func (s *server) listUses(ctx context.Context, in *recordQuery) (*listed[inventory.Use], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Shift.Uses, useID)
}

func (s *server) listBagUses(ctx context.Context, in *bagRecords) (*listed[inventory.Use], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Shift.Uses, useID)
}

func useID(u inventory.Use) int64 { return u.ID }

func (s *server) getUse(ctx context.Context, in *ByID) (*plain[inventory.Use], error) {
	return answer(s.svc.Shift.Use(ctx, by(ctx), in.ID))
}

func (s *server) decideUse(ctx context.Context, in *toID[signedUseDecision]) (inventory.Use, error) {
	return s.svc.Shift.DecideUse(ctx, by(ctx), in.ID, in.Body.UseDecision)
}
