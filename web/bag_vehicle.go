package web

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

type vehiclePage struct {
	Base
	shift.VehicleState
	At     inventory.Station
	Today  inventory.Day
	Now    When
	Rows   []BoardBag
	Reason Field
	Done   *Done

	Checked int // of its bags, since the day began

	MayStop bool
}

func (s *server) stopVehicle(v *visit, f *form) error {
	return s.changeVehicle(v, f, s.svc.Shift.StopVehicle)
}

func (s *server) returnVehicle(v *visit, f *form) error {
	return s.changeVehicle(v, f, s.svc.Shift.ReturnVehicle)
}

func (s *server) changeVehicle(v *visit, f *form, do func(ctx context.Context, by inventory.Actor,
	in shift.VehicleChange) (inventory.VehicleOutOfService, error)) error {
	in := shift.VehicleChange{Station: f.text("station"), Vehicle: f.text("vehicle"), Reason: f.text("reason")}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := do(ctx, v.actor, in)
		return vehiclePath(in.Station, in.Vehicle), err
	})
}

func (s *server) vehicleForm(v *visit, f *form, failed error) error {
	station, name := cmp.Or(f.text("station"), v.Query("station")), cmp.Or(f.text("vehicle"), v.Query("name"))
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
		p := &vehiclePage{Base: Base{Title: message.Plain(x.Vehicle)}, VehicleState: x, At: here,
			Today: here.Today(v.now), Now: whenAt(v.now, here), MayStop: v.may(inventory.ActStop)}
		for _, b := range x.Bags {
			p.Rows = append(p.Rows, BoardBag{BagSummary: b, Says: boardSays(b)})
		}
		if err := s.nameLenders(v, p.Rows); err != nil {
			return err
		}
		if err := s.sayChecked(v, p); err != nil {
			return err
		}
		p.Reason = f.field("reason", message.M("Reason")).Need()
		return s.renderForm(v, f, p, failed)
	}
	return inventory.Refuse(inventory.NotFound, "not found at your stations")
}

// sayChecked says of each bag of a vehicle who checked it today, or that it is due, in the order in which a shift goes.
func (s *server) sayChecked(v *visit, p *vehiclePage) error {
	checks, err := s.svc.Shift.Checks(v.ctx(), v.actor, inventory.RecordFilter{AtStations: []string{p.At.Code},
		Since: v.now.Add(-24 * time.Hour)}, inventory.Page{})
	if err != nil {
		return err
	}
	for i, b := range p.Rows {
		says := message.M("check due")
		if b.CheckedToday(p.At, v.now) {
			p.Checked++
			says = message.M("checked {1}", whenAt(b.LastCheck(), p.At).Clock)
			for _, c := range checks {
				if c.Bag == b.Code && c.HappenedAt == b.LastCheck() {
					says = message.M("checked {1} by {2}", whenAt(b.LastCheck(), p.At).Clock, c.By)
				}
			}
		}
		p.Rows[i].Says = append(b.Says, says)
	}
	slices.SortStableFunc(p.Rows, func(a, b BoardBag) int {
		return cmp.Or(cmp.Compare(a.Priority, b.Priority), cmp.Compare(a.Code, b.Code))
	})
	return nil
}
