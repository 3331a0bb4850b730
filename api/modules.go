package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

type swapPost struct {
	ByCode
	Posted[shift.Swap]
}

func (s *server) swapModule(ctx context.Context, in *swapPost) (inventory.Readiness, error) {
	return s.svc.Shift.SwapModule(ctx, by(ctx), in.code(), in.Body)
}
