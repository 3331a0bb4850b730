package api

import (
	"context"

	"stowkeeper/inventory"
)

func (s *server) listStations(ctx context.Context, in *Paging) (*listed[inventory.Station], error) {
	return listWhole(*in, func(x inventory.Station) string { return x.Code })(s.svc.Lists.Stations(ctx, by(ctx)))
}

func (s *server) createStation(ctx context.Context, in *Posted[inventory.Station]) (inventory.Station, error) {
	station := in.Body
	station.Code = inventory.NormalCode(station.Code)
	return s.svc.Lists.CreateStation(ctx, by(ctx), station)
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
