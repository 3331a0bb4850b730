package web

import (
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type stationsPage struct {
	Base
	Rows, Closed         []inventory.Station
	Code, Name, Timezone Field
}

func (s *server) stationsForm(v *visit, f *form, failed error) error {
	p := &stationsPage{Base: Base{Title: message.M("Stations")}, Rows: v.stations(),
		Closed: slices.DeleteFunc(slices.Clone(v.everyStation()),
			func(x inventory.Station) bool { return !x.Closed() })}
	p.Code = f.field("code", message.M("Code")).Need().
		WithHint(message.M("Two to four letters. Cannot be changed later."))
	p.Name = f.field("name", message.M("Name")).Need()
	p.Timezone = f.field("timezone", message.M("Time zone")).Need().
		WithHint(message.M("e.g. Europe/London. Sets the station's local date."))
	return s.renderForm(v, f, p, failed)
}

func (s *server) createStation(v *visit, f *form) error {
	in := inventory.Station{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Timezone: f.text("timezone")}
	if _, err := s.svc.Lists.CreateStation(v.ctx(), v.actor, in); err != nil {
		return err
	}
	return v.to("/stations")
}

func stationPath(code string) string { return "/stations/" + url.PathEscape(code) }

type stationPage struct {
	Base
	Of        inventory.Station
	ClosedAt  When
	Into, Own Field
	Signing   *SigningFields
	Done      *Done
}

func (s *server) stationOf(v *visit) (inventory.Station, error) {
	code := inventory.NormalCode(v.Param("station"))
	all := v.everyStation()
	i := slices.IndexFunc(all, func(x inventory.Station) bool { return x.Code == code })
	if i < 0 {
		return inventory.Station{}, inventory.Refuse(inventory.NotFound, "not found")
	}
	return all[i], nil
}

// stationForm shows a station, with the way to close it or to open it again.
func (s *server) stationForm(v *visit, f *form, failed error) error {
	of, err := s.stationOf(v)
	if err != nil {
		return err
	}
	p := &stationPage{Base: Base{Title: message.Plain(of.Name)}, Of: of, ClosedAt: whenAt(of.ClosedAt, of)}
	p.Into = v.stationField(f, "into", message.M("Move everything to"))
	p.Into.Empty = message.M("none")
	p.Into.Options = slices.DeleteFunc(p.Into.Options, func(o Option) bool { return o.Value == of.Code })
	p.Own = v.confirmField(f, "")
	p.Signing = f.signing(false)
	if kind, _ := doneParam(v); kind == "closed" && of.Closed() {
		p.Done = &Done{Title: message.M("Recorded")}
	}
	return s.renderForm(v, f, p, failed)
}

// closeStation closes a station, alone or with all of it moved to another, or opens it again.
func (s *server) closeStation(v *visit, f *form) error {
	of, err := s.stationOf(v)
	if err != nil {
		return err
	}
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	if f.text("how") == "reopen" {
		if _, err := s.svc.Lists.ReopenStation(v.ctx(), v.actor, of.Code); err != nil {
			return err
		}
		return v.to(stationPath(of.Code))
	}
	by, err := s.signed(v, f)
	if err != nil {
		return err
	}
	if _, err := s.svc.Lists.CloseStation(v.ctx(), by, of.Code, f.text("into")); err != nil {
		return err
	}
	return v.to(stationPath(of.Code) + "?done=closed-1")
}
