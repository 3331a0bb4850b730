package api

import (
	"context"

	"stowkeeper/inventory"
)

type awayQuery struct {
	Paging
	Site string `query:"site" doc:"Site code"`
}

func (s *server) listAway(ctx context.Context, in *awayQuery) (*listed[inventory.AwayPlace], error) {
	all, err := s.svc.Away(ctx, by(ctx), codes(in.Site))
	if err != nil {
		return nil, err
	}
	return listWhole(in.Paging, all, func(a inventory.AwayPlace) string { return a.Code })
}

func (s *server) sendAway(ctx context.Context, in *Posted[signedTrip]) (inventory.AwayPlace, error) {
	return s.svc.SendAway(ctx, by(ctx), in.Body.AwayTrip)
}

// Returns are units that come back.
type Returns struct {
	Lines []inventory.ReturnLine `json:"lines" minItems:"1" maxItems:"500" doc:"All of them come back or none does"`
	inventory.Signing
}

type returnsPost struct {
	ByCode
	Posted[Returns]
}

func (s *server) comeBack(ctx context.Context, in *returnsPost) (inventory.AwayPlace, error) {
	return s.svc.ComeBack(ctx, by(ctx), in.code(), in.Body.Lines)
}
