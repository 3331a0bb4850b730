package web

import (
	"net/http"

	"stowkeeper/inventory"
)

type stationsPage struct {
	Base
	Form                 Form
	Rows                 []inventory.Station
	Code, Name, Timezone Field
}

func (s *server) showStations(v *visit) error { return s.stationsForm(v, openForm(nil), nil) }

func (s *server) stationsForm(v *visit, f *form, failed error) error {
	p := &stationsPage{Base: Base{Title: "Stations"}, Rows: v.stations()}
	p.Code = f.field("code", "Code, as its bags and places begin with").Need().
		WithHint("Two to four letters are good. It is for good.")
	p.Name = f.field("name", "Name").Need()
	p.Timezone = f.field("timezone", "Time zone").Need().
		WithHint("For example Europe/London: it decides what today is there.")
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

func (s *server) createStation(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Station{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Timezone: f.text("timezone")}
	_, err := s.svc.Lists.CreateStation(v.ctx(), v.actor, in)
	if err == nil {
		v.Redirect(http.StatusSeeOther, "/stations")
	}
	return f.fix(v, err, nil, s.stationsForm)
}
