package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// CheckReport is what a crew sends of a check.
type CheckReport struct {
	Kind            inventory.CheckKind       `json:"kind" enum:"seal,full"`
	HappenedAt      inventory.Instant         `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	SeenPosition    int64                     `json:"seen_position" minimum:"0" doc:"The bag's position that the crew saw"`
	SealSeen        string                    `json:"seal_seen,omitempty" doc:"Number on the seal as found"`
	SealBroken      bool                      `json:"seal_broken,omitempty" doc:"The seal was broken or gone"`
	SealSet         string                    `json:"seal_set,omitempty" doc:"Number of the new seal"`
	Lines           []inventory.CheckLine     `json:"lines,omitempty" doc:"For a full check: everything expected, counted"`
	Found           []inventory.FoundLine     `json:"found,omitempty" doc:"What should not be there"`
	Inspections     []inventory.InspectedLine `json:"inspections,omitempty"`
	Note            string                    `json:"note,omitempty"`
	ReturnToService bool                      `json:"return_to_service,omitempty" doc:"With a full check: back in service"`
	NotCounted      int                       `json:"not_counted,omitempty" minimum:"0" doc:"Lines not counted"`
	account.Signing
}

func (s *server) recordCheck(ctx context.Context, in *toCode[CheckReport]) (inventory.Check, error) {
	b := in.Body
	c := inventory.Check{Bag: in.code(), Kind: b.Kind, HappenedAt: b.HappenedAt, SeenPosition: b.SeenPosition,
		SealSeen: b.SealSeen, SealBroken: b.SealBroken, SealSet: b.SealSet, Lines: b.Lines, Found: foundLines(b.Found),
		Inspections: b.Inspections, Note: b.Note, ReturnToService: b.ReturnToService,
		NotCounted: b.NotCounted}
	return s.svc.Shift.RecordCheck(ctx, by(ctx), c, in.key())
}

// foundLines brings the item codes that were typed to their stored form.
func foundLines(typed []inventory.FoundLine) []inventory.FoundLine {
	out := make([]inventory.FoundLine, 0, len(typed))
	for _, f := range typed {
		f.Item = inventory.NormalCode(f.Item)
		out = append(out, f)
	}
	return out
}

type recordQuery struct {
	Paging
	Status  string `query:"status" enum:"accepted,to_review,rejected,withdrawn"`
	Bag     string `query:"bag" doc:"Bag code"`
	Station string `query:"station" doc:"Code of the station where the bags are"`
}

func (q recordQuery) filter() inventory.RecordFilter {
	return inventory.RecordFilter{Bag: inventory.NormalCode(q.Bag), Status: inventory.RecordStatus(q.Status),
		AtStations: codes(q.Station)}
}

func (s *server) listChecks(ctx context.Context, in *recordQuery) (*listed[inventory.Check], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Shift.Checks, checkID)
}

type bagRecords struct {
	ByCode
	Paging
	Status string `query:"status" enum:"accepted,to_review,rejected,withdrawn"`
}

func (q bagRecords) filter() inventory.RecordFilter {
	return inventory.RecordFilter{Bag: q.code(), Status: inventory.RecordStatus(q.Status)}
}

func (s *server) listBagChecks(ctx context.Context, in *bagRecords) (*listed[inventory.Check], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Shift.Checks, checkID)
}

func checkID(c inventory.Check) int64 { return c.ID }

func (s *server) getCheck(ctx context.Context, in *ByID) (*plain[inventory.Check], error) {
	return answer(s.svc.Shift.Check(ctx, by(ctx), in.ID))
}

func (s *server) decideCheck(ctx context.Context, in *toID[signedCheckDecision]) (inventory.Check, error) {
	d := in.Body.CheckDecision
	d.Found = foundLines(d.Found)
	return s.svc.Shift.DecideCheck(ctx, by(ctx), in.ID, d)
}

type withdrawal struct {
	ByID
	Posted[struct {
		Reason string `json:"reason,omitempty" maxLength:"2000" doc:"Default: sent by mistake"`
	}]
}

func (s *server) withdrawCheck(ctx context.Context, in *withdrawal) (inventory.Check, error) {
	return s.svc.Shift.WithdrawCheck(ctx, by(ctx), in.ID, in.Body.Reason)
}

func (s *server) withdrawUse(ctx context.Context, in *withdrawal) (inventory.Use, error) {
	return s.svc.Shift.WithdrawUse(ctx, by(ctx), in.ID, in.Body.Reason)
}
