package api

import (
	"context"

	"stowkeeper/inventory"
)

type swapPost struct {
	ByCode
	Posted[inventory.Swap]
}

func (s *server) swapModule(ctx context.Context, in *swapPost) (inventory.Readiness, error) {
	return s.svc.SwapModule(ctx, by(ctx), in.code(), in.Body)
}
