package web

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

type inspectPage struct {
	Base
	Device  stock.DeviceSummary
	At      string // where it is, by name
	Apart   bool   // it is set apart in quarantine
	Points  []PointFields
	Release Field
	Note    Field
	Form    Form

	MayRelease bool
}

func (s *server) showInspect(v *visit) error { return s.inspectForm(v, openForm(nil), nil) }

func (s *server) recordInspect(v *visit) error {
	d, err := s.device(v)
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	in := ledger.InspectionReport{Note: f.text("note"), ReleaseTo: f.text("release_to")}
	var rows []string
	in.Points, rows = readPoints(f, d.Item, paramID(v, "lot"))
	err = v.once(func(ctx context.Context, _ string) (string, error) {
		x, err := s.svc.Ledger.Inspect(ctx, v.actor, d.ID, in)
		return devicePath(d.ID) + "?done=inspection-" + formatID(x.ID), err
	})
	return f.fix(v, err, func(path string) string { return pointName(path, rows) }, s.inspectForm)
}

func (s *server) inspectForm(v *visit, f *form, failed error) error {
	d, err := s.device(v)
	if err != nil {
		return err
	}
	here := s.placeOf(v, d.Where)
	p := &inspectPage{Base: Base{Title: "Inspect " + d.Name + ", serial " + d.Serial, Caution: true},
		Device: d.DeviceSummary, At: placeText(here),
		Apart: here.Kind == inventory.KindQuarantine, MayRelease: v.may(inventory.ActKeepStock)}
	if here.Code == "" {
		return inventory.Errorf(inventory.NotFound, "this device is not at your stations, so it cannot be inspected there")
	}
	p.Points = pointFields(f, d.Item, paramID(v, "lot"))
	if p.MayRelease {
		p.Release = f.choice("release_to", "If it passes, put it into", releaseOptions(v.places(), here))
		p.Release.Empty = "leave it where it is"
	}
	p.Note = f.area("note", "Note")
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// releaseOptions lists where a device may go on to once it has passed: places
// of its purpose, those of its own station first.
func releaseOptions(places []inventory.Place, here inventory.Place) []Option {
	var near, far []Option
	for _, p := range places {
		if !stock.MayRelease(here, p) {
			continue
		}
		o := Option{Value: p.Code, Text: p.Name + ", " + p.Code}
		if p.Station == here.Station {
			near = append(near, o)
		} else {
			far = append(far, o)
		}
	}
	return slices.Concat(near, far)
}
