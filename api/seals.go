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
	return listByID(in.Paging, func(e inventory.BagLogEntry) int64 { return e.ID },
		func(page inventory.Page) ([]inventory.BagLogEntry, error) {
			return s.svc.Lists.BagLog(ctx, by(ctx), in.code(), page)
		})
}
