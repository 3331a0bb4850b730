package api

import (
	"context"

	"stowkeeper/inventory/account"
	"stowkeeper/inventory/shift"
)

func (s *server) listAway(ctx context.Context, in *stationQuery) (*listed[shift.AwayPlace], error) {
	return listWhole(in.Paging, func(a shift.AwayPlace) string { return a.Code })(
		s.svc.Shift.Away(ctx, by(ctx), codes(in.Station)))
}

func (s *server) sendAway(ctx context.Context, in *Posted[signedTrip]) (shift.AwayPlace, error) {
	return s.svc.Shift.SendAway(ctx, by(ctx), in.Body.AwayTrip)
}

// Returns are units that come back.
type Returns struct {
	Lines []shift.ReturnLine `json:"lines" minItems:"1" maxItems:"500" doc:"All of them come back or none does"`
	account.Signing
}

func (s *server) recordReturn(ctx context.Context, in *toCode[Returns]) (shift.AwayPlace, error) {
	return s.svc.Shift.ComeBack(ctx, by(ctx), in.code(), in.Body.Lines)
}
