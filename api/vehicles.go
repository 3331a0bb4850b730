package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

func (s *server) listVehicles(ctx context.Context, in *stationQuery) (*listed[shift.VehicleState], error) {
	return listWhole(in.Paging, func(v shift.VehicleState) string { return v.Station + "/" + v.Vehicle })(
		s.svc.Shift.Vehicles(ctx, by(ctx), codes(in.Station)))
}

func (s *server) stopVehicle(ctx context.Context, in *Posted[shift.VehicleChange]) (inventory.VehicleOutOfService,
	error) {
	return s.svc.Shift.StopVehicle(ctx, by(ctx), in.Body)
}

func (s *server) returnVehicle(ctx context.Context, in *Posted[shift.VehicleChange]) (inventory.VehicleOutOfService,
	error) {
	return s.svc.Shift.ReturnVehicle(ctx, by(ctx), in.Body)
}
