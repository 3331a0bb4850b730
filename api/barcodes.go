package api

import (
	"context"

	"stowkeeper/inventory"
)

type barcodeText struct {
	Body struct {
		Text string `json:"text" maxLength:"7200" doc:"As scanned, separators as ASCII 29, or as printed in brackets"`
	}
}

func (s *server) readBarcode(ctx context.Context, in *barcodeText) (*plain[inventory.PackFacts], error) {
	f, err := s.svc.Ledger.ReadBarcode(ctx, by(ctx), in.Body.Text)
	return answer(f, err)
}
