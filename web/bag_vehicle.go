package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

type vehiclePage struct {
	Base
	inventory.VehicleState
	StationName string
	Today       inventory.Day
	Now         When
	OutSince    When
	Rows        []BoardBag
	Form        Form
	Reason      Field
	Done        *Done

	MayStop bool
}

func (s *server) showVehicle(v *visit) error {
	return s.vehicleForm(v, openForm(nil), v.Query("station"), v.Query("name"), nil)
}

func (s *server) stopVehicle(v *visit) error {
	return s.changeVehicle(v, s.svc.Shift.StopVehicle)
}

func (s *server) returnVehicle(v *visit) error {
	return s.changeVehicle(v, s.svc.Shift.ReturnVehicle)
}

// changeVehicle takes a vehicle off the run or puts it back.
func (s *server) changeVehicle(v *visit, do func(ctx context.Context, by inventory.Actor,
	in shift.VehicleChange) (inventory.VehicleOutOfService, error)) error {
	f := openForm(v.Request.PostForm)
	in := shift.VehicleChange{Station: f.text("station"), Vehicle: f.text("vehicle"), Reason: f.text("reason")}
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := do(ctx, v.actor, in)
		return vehiclePath(in.Station, in.Vehicle), err
	})
	return f.fix(v, err, nil, func(v *visit, f *form, err error) error {
		return s.vehicleForm(v, f, in.Station, in.Vehicle, err)
	})
}

func (s *server) vehicleForm(v *visit, f *form, station, name string, failed error) error {
	var only []string
	if station != "" {
		only = []string{inventory.NormalCode(station)}
	}
	all, err := s.svc.Shift.Vehicles(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	for _, x := range all {
		if x.Vehicle != name {
			continue
		}
		here := v.station(x.Station)
		p := &vehiclePage{Base: Base{Title: x.Vehicle}, VehicleState: x, StationName: here.Name, Today: here.Today(v.now),
			Now: whenAt(v.now, here), MayStop: v.may(inventory.ActStop)}
		for _, b := range x.Bags {
			p.Rows = append(p.Rows, BoardBag{BagSummary: b, Says: boardSays(b)})
		}
		if err := s.nameLenders(v, p.Rows); err != nil {
			return err
		}
		if x.OutOfService != nil {
			p.OutSince = whenAt(x.OutOfService.RecordedAt, here)
		}
		p.Reason = f.field("reason", "Why it must not go out").Need()
		p.Form = f.state(failed, f.keyOr(newKey), 0)
		return s.render(v, statusOf(failed), p)
	}
	return inventory.Errorf(inventory.NotFound,
		"no vehicle of this name is at your stations: a vehicle is there as soon as a bag or a carrier rides on it")
}
