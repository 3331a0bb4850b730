package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type inspectPage struct {
	Base
	Device        stock.DeviceSummary
	At            string // where it is, by name
	Apart         bool   // it is set apart in quarantine
	Points        []PointFields
	Release, Note Field

	MayRelease bool
}

func (s *server) recordInspect(v *visit, f *form) error {
	d, err := s.device(v)
	if err != nil {
		return err
	}
	in := ledger.InspectionReport{Note: f.text("note"), ReleaseTo: f.text("release_to")}
	var rows []string
	in.Points, rows = readPoints(f, d.Item, paramID(v, "lot"))
	f.names = func(path string) string { return pointName(path, rows) }
	return v.once(func(ctx context.Context, _ string) (string, error) {
		x, err := s.svc.Ledger.Inspect(ctx, v.actor, d.ID, in)
		return devicePath(d.ID) + "?done=inspection-" + formatID(x.ID), err
	})
}

func (s *server) inspectForm(v *visit, f *form, failed error) error {
	d, err := s.device(v)
	if err != nil {
		return err
	}
	here := s.placeOf(v, d.Where)
	p := &inspectPage{Base: Base{Title: message.M("Inspect {1}, serial {2}", d.Name, d.Serial), Caution: true},
		Device: d.DeviceSummary, At: placeText(here),
		Apart: here.Kind == inventory.KindQuarantine, MayRelease: v.may(inventory.ActKeepStock)}
	if here.Code == "" {
		return inventory.Refuse(inventory.NotFound, "not found at your stations")
	}
	p.Points = pointFields(f, d.Item, paramID(v, "lot"))
	if p.MayRelease {
		p.Release = f.choice("release_to", message.M("If passed, move to"), releaseOptions(v.places(), here))
		p.Release.Empty = message.M("(stay)")
	}
	p.Note = f.area("note", message.M("Note"))
	return s.renderForm(v, f, p, failed)
}

// releaseOptions lists where a device may go on to once it has passed: places
// of its purpose, those of its own station first.
func releaseOptions(places []inventory.Place, here inventory.Place) []Option {
	return placeOptions(places, here.Station, func(p inventory.Place) bool { return stock.MayRelease(here, p) })
}
