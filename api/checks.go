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
	Lines           []inventory.CheckLine     `json:"lines,omitempty" doc:"For a full check: every lot expected, counted"`
	Found           []inventory.FoundLine     `json:"found,omitempty" doc:"What should not be there"`
	Inspections     []inventory.InspectedLine `json:"inspections,omitempty"`
	Note            string                    `json:"note,omitempty"`
	ReturnToService bool                      `json:"return_to_service,omitempty" doc:"With a full check: back in service"`
	account.Signing
}

type checkPost struct {
	ByCode
	Posted[CheckReport]
}

func (s *server) recordCheck(ctx context.Context, in *checkPost) (inventory.Check, error) {
	b := in.Body
	c := inventory.Check{Bag: in.code(), Kind: b.Kind, HappenedAt: b.HappenedAt, SeenPosition: b.SeenPosition,
		SealSeen: b.SealSeen, SealBroken: b.SealBroken, SealSet: b.SealSet, Lines: b.Lines, Found: foundLines(b.Found),
		Inspections: b.Inspections, Note: b.Note, ReturnToService: b.ReturnToService}
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
	Status  string `query:"status" enum:"accepted,to_review,rejected"`
	Bag     string `query:"bag" doc:"Bag code"`
	Station string `query:"station" doc:"Code of the station where the bags are"`
}

func (q recordQuery) filter() inventory.RecordFilter {
	return inventory.RecordFilter{Bag: inventory.NormalCode(q.Bag), Status: inventory.RecordStatus(q.Status),
		AtStations: codes(q.Station)}
}

func (s *server) listChecks(ctx context.Context, in *recordQuery) (*listed[inventory.Check], error) {
	return s.checks(ctx, in.Paging, in.filter())
}

type bagRecords struct {
	ByCode
	Paging
	Status string `query:"status" enum:"accepted,to_review,rejected"`
}

func (q bagRecords) filter() inventory.RecordFilter {
	return inventory.RecordFilter{Bag: q.code(), Status: inventory.RecordStatus(q.Status)}
}

func (s *server) listBagChecks(ctx context.Context, in *bagRecords) (*listed[inventory.Check], error) {
	return s.checks(ctx, in.Paging, in.filter())
}

func (s *server) checks(ctx context.Context, p Paging, f inventory.RecordFilter) (*listed[inventory.Check], error) {
	return listByID(p, func(c inventory.Check) int64 { return c.ID },
		func(page inventory.Page) ([]inventory.Check, error) {
			return s.svc.Shift.Checks(ctx, by(ctx), f, page)
		})
}

func (s *server) getCheck(ctx context.Context, in *ByID) (*plain[inventory.Check], error) {
	return answer(s.svc.Shift.Check(ctx, by(ctx), in.ID))
}

type checkDecision struct {
	ByID
	Posted[signedCheckDecision]
}

func (s *server) decideCheck(ctx context.Context, in *checkDecision) (inventory.Check, error) {
	d := in.Body.CheckDecision
	d.Found = foundLines(d.Found)
	return s.svc.Shift.DecideCheck(ctx, by(ctx), in.ID, d)
}
