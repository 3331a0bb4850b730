package api

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
)

type stationsQuery struct {
	Paging
	Closed bool `query:"closed" doc:"Also those that are closed"`
}

func (s *server) listStations(ctx context.Context, in *stationsQuery) (*listed[inventory.Station], error) {
	all, err := s.svc.Lists.Stations(ctx, by(ctx))
	if !in.Closed {
		all = slices.DeleteFunc(all, inventory.Station.Closed)
	}
	return listWhole(in.Paging, func(x inventory.Station) string { return x.Code })(all, err)
}

func (s *server) createStation(ctx context.Context, in *Posted[inventory.Station]) (inventory.Station, error) {
	station := in.Body
	station.Code = inventory.NormalCode(station.Code)
	return s.svc.Lists.CreateStation(ctx, by(ctx), station)
}

func (s *server) changeStation(ctx context.Context, in *toCode[lists.StationSettings]) (inventory.Station, error) {
	return s.svc.Lists.ChangeStation(ctx, by(ctx), in.code(), in.Body)
}

// StationClosing says where all that a station has goes. Signatures are needed where controlled items lie in its
// stores.
type StationClosing struct {
	Into string `json:"into,omitempty" doc:"Station code; missing for a station that is empty"`
	account.Signing
}

func (s *server) closeStation(ctx context.Context, in *toCode[StationClosing]) (lists.StationClosed, error) {
	return s.svc.Lists.CloseStation(ctx, by(ctx), in.code(), inventory.NormalCode(in.Body.Into))
}

// StationReopening says nothing: the station comes back as empty as it was closed.
type StationReopening struct{}

func (s *server) openStation(ctx context.Context, in *toCode[StationReopening]) (inventory.Station, error) {
	return s.svc.Lists.ReopenStation(ctx, by(ctx), in.code())
}

// CategoryName is a category as it is listed and added.
type CategoryName struct {
	Name inventory.Category `json:"name" doc:"Lower case, as the trade says it"`
}

func (s *server) listCategories(ctx context.Context, in *Paging) (*listed[CategoryName], error) {
	all, err := s.svc.Lists.Categories(ctx, by(ctx))
	names := make([]CategoryName, 0, len(all))
	for _, c := range all {
		names = append(names, CategoryName{c})
	}
	return listWhole(*in, func(c CategoryName) string { return string(c.Name) })(names, err)
}

func (s *server) addCategory(ctx context.Context, in *Posted[CategoryName]) (CategoryName, error) {
	return in.Body, s.svc.Lists.AddCategory(ctx, by(ctx), in.Body.Name)
}
