package web

import (
	"context"
	"net/url"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

type vehiclePage struct {
	Base
	inventory.VehicleState
	SiteName string
	Today    inventory.Day
	Now      When
	OffAt    When
	Rows     []BoardBag
	Form     Form
	Reason   Field
	Done     *Done

	MayTakeOff bool
}

func (*vehiclePage) template() string { return "vehicle" }

// vehiclePath leads to a vehicle's page. A vehicle has a name that people gave
// it, and no code.
func vehiclePath(site, vehicle string) string {
	return "/vehicle?" + url.Values{"site": {site}, "name": {vehicle}}.Encode()
}

func (s *server) showVehicle(v *visit) error {
	return s.vehicleForm(v, openForm(nil), v.Query("site"), v.Query("name"), nil)
}

func (s *server) takeVehicleOff(v *visit) error {
	return s.changeVehicle(v, s.svc.Shift.StopVehicle)
}

func (s *server) putVehicleBack(v *visit) error {
	return s.changeVehicle(v, s.svc.Shift.ReturnVehicle)
}

// changeVehicle takes a vehicle off the run or puts it back.
func (s *server) changeVehicle(v *visit, do func(ctx context.Context, by inventory.Actor, in shift.VehicleChange) (inventory.VehicleOutOfService, error)) error {
	f := openForm(v.Request.PostForm)
	in := shift.VehicleChange{Site: f.text("site"), Vehicle: f.text("vehicle"), Reason: f.text("reason")}
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := do(ctx, v.actor, in)
		return vehiclePath(in.Site, in.Vehicle), err
	})
	if again(err) {
		f.take(err, nil)
		return s.vehicleForm(v, f, in.Site, in.Vehicle, err)
	}
	return err
}

func (s *server) vehicleForm(v *visit, f *form, site, name string, failed error) error {
	var only []string
	if site != "" {
		only = []string{inventory.NormalCode(site)}
	}
	all, err := s.svc.Shift.Vehicles(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	sites, err := s.svc.Lists.Sites(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	for _, x := range all {
		if x.Vehicle != name {
			continue
		}
		here := siteOf(sites, x.Site)
		p := &vehiclePage{Base: Base{Title: x.Vehicle}, VehicleState: x, SiteName: here.Name, Today: here.Today(v.now), Now: whenAt(v.now, here), MayTakeOff: v.may(inventory.ActStop)}
		for _, b := range x.Bags {
			p.Rows = append(p.Rows, BoardBag{BagSummary: b, Says: boardSays(b)})
		}
		if err := s.nameLenders(v, p.Rows); err != nil {
			return err
		}
		if x.TakenOff != nil {
			p.OffAt = whenAt(x.TakenOff.RecordedAt, here)
		}
		p.Reason = f.field("reason", "Why it must not go out").Need()
		p.Form = f.state(failed, f.keyOr(newKey), 0)
		return s.render(v, statusOf(failed), p)
	}
	return inventory.Errorf(inventory.NotFound, "no vehicle of this name is at your stations: a vehicle is there as soon as a bag or a carrier rides on it")
}
