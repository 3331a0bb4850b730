package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

func (s *server) getPickList(ctx context.Context, in *bagRead) (*plain[inventory.PickList], error) {
	ask, err := in.ask()
	if err != nil {
		return nil, err
	}
	p, err := s.svc.Storeroom.RestockPlan(ctx, by(ctx), in.code(), ask)
	return answer(p.PickList, err)
}

// RestockReport is what a quartermaster sends of a restock.
type RestockReport struct {
	SeenPosition int64                   `json:"seen_position,omitempty" minimum:"0" doc:"Refused where it is stale"`
	Lines        []inventory.RestockLine `json:"lines,omitempty" doc:"What was put in"`
	TakeOut      []inventory.TakeOutLine `json:"take_out,omitempty" doc:"What was taken out"`
	SealSet      string                  `json:"seal_set,omitempty" doc:"Number of the new seal"`
	Note         string                  `json:"note,omitempty"`
	HappenedAt   inventory.Instant       `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	account.Signing
}

func (s *server) recordRestock(ctx context.Context, in *toCode[RestockReport]) (inventory.Restock, error) {
	b := in.Body
	r := inventory.Restock{Bag: in.code(), Lines: b.Lines, TakeOut: b.TakeOut, SealSet: b.SealSet, Note: b.Note,
		HappenedAt: b.HappenedAt}
	return s.svc.Storeroom.RecordRestock(ctx, by(ctx), r, b.SeenPosition)
}

type bagPaged struct {
	ByCode
	Paging
}

func (s *server) listRestocks(ctx context.Context, in *bagPaged) (*listed[inventory.Restock], error) {
	return listByID(ctx, in.Paging, in.code(), s.svc.Storeroom.Restocks, func(r inventory.Restock) int64 { return r.ID })
}

func (s *server) listSeals(ctx context.Context, in *bagPaged) (*listed[inventory.SealEntry], error) {
	return listByID(ctx, in.Paging, in.code(), s.svc.Storeroom.Seals, func(e inventory.SealEntry) int64 { return e.ID })
}
