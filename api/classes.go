package api

import (
	"context"

	"stowkeeper/inventory/ledger"
)

func (s *server) recordClass(ctx context.Context, in *Posted[signedClass]) (ledger.ClassRecord, error) {
	return s.svc.Ledger.RecordClass(ctx, by(ctx), in.Body.Class)
}
