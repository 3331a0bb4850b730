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
	account.Signing
}

type restockPost struct {
	ByCode
	Posted[RestockReport]
}

func (s *server) recordRestock(ctx context.Context, in *restockPost) (inventory.Restock, error) {
	b := in.Body
	r := inventory.Restock{Bag: in.code(), Lines: b.Lines, TakeOut: b.TakeOut, SealSet: b.SealSet, Note: b.Note}
	return s.svc.Storeroom.RecordRestock(ctx, by(ctx), r, b.SeenPosition)
}

type bagPaged struct {
	ByCode
	Paging
}

func (s *server) listRestocks(ctx context.Context, in *bagPaged) (*listed[inventory.Restock], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	restocks, err := s.svc.Storeroom.Restocks(ctx, by(ctx), in.code(), page)
	return list(in.Paging, restocks, func(r inventory.Restock) string { return id(r.ID) }), err
}

func (s *server) listSeals(ctx context.Context, in *bagPaged) (*listed[inventory.SealEntry], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	seals, err := s.svc.Storeroom.Seals(ctx, by(ctx), in.code(), page)
	return list(in.Paging, seals, func(e inventory.SealEntry) string { return id(e.ID) }), err
}
