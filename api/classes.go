package api

import (
	"context"

	"stowkeeper/inventory"
)

func (s *server) recordClass(ctx context.Context, in *Posted[signedClass]) (inventory.ClassRecord, error) {
	return s.svc.RecordClass(ctx, by(ctx), in.Body.Class)
}
