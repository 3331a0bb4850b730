package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

func (s *server) reportSeal(ctx context.Context, in *toCode[shift.SealReport]) (inventory.Bag, error) {
	return s.svc.Shift.ReportSeal(ctx, by(ctx), in.code(), in.Body)
}

func (s *server) listBagLog(ctx context.Context, in *bagPaged) (*listed[inventory.BagLogEntry], error) {
	return listByID(ctx, in.Paging, in.code(), s.svc.Lists.BagLog, func(e inventory.BagLogEntry) int64 { return e.ID })
}
