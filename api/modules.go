package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

func (s *server) swapModule(ctx context.Context, in *toCode[shift.Swap]) (inventory.Readiness, error) {
	return s.svc.Shift.SwapModule(ctx, by(ctx), in.code(), in.Body)
}
