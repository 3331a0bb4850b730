package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

type sealPost struct {
	ByCode
	Posted[shift.SealReport]
}

func (s *server) reportSeal(ctx context.Context, in *sealPost) (inventory.Bag, error) {
	return s.svc.Shift.ReportSeal(ctx, by(ctx), in.code(), in.Body)
}

func (s *server) listBagLog(ctx context.Context, in *bagPaged) (*listed[inventory.BagLogEntry], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	log, err := s.svc.Lists.BagLog(ctx, by(ctx), in.code(), page)
	return list(in.Paging, log, func(e inventory.BagLogEntry) string { return id(e.ID) }), err
}
