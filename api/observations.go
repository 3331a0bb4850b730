package api

import (
	"context"

	"stowkeeper/inventory"
)

type observationQuery struct {
	Paging
	Bag     string `query:"bag" doc:"Bag code"`
	Station string `query:"station" doc:"Code of the station where the bags are"`
	Open    bool   `query:"open" doc:"Only those not closed"`
}

func (s *server) listObservations(ctx context.Context, in *observationQuery) (*listed[inventory.Observation], error) {
	f := inventory.ObservationFilter{AtStations: codes(in.Station), Open: in.Open}
	return listWhole(in.Paging, func(o inventory.Observation) string { return id(o.ID) })(
		s.svc.Storeroom.Observations(ctx, by(ctx), in.Bag, f))
}

// Closing ends an observation.
type Closing struct {
	Reason string `json:"reason" doc:"What was found or done about it"`
}

type closingPost struct {
	ByCode
	ByID
	Posted[Closing]
}

func (s *server) closeObservation(ctx context.Context, in *closingPost) (inventory.Observation, error) {
	return s.svc.Storeroom.CloseObservation(ctx, by(ctx), in.code(), in.ID, in.Body.Reason)
}
