package web

import (
	"net/http"

	"stowkeeper/inventory"
)

type sitesPage struct {
	Base
	Form                 Form
	Rows                 []inventory.Site
	Code, Name, Timezone Field
}

func (*sitesPage) template() string { return "sites" }

func (s *server) showSites(v *visit) error { return s.sitesForm(v, openForm(nil), nil) }

func (s *server) sitesForm(v *visit, f *form, failed error) error {
	sites, err := s.svc.Lists.Sites(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &sitesPage{Base: Base{Title: "Stations"}, Rows: sites}
	p.Code = f.field("code", "Code, as its bags and places begin with").Need().WithHint("Two to four letters are good. It is for good.")
	p.Name = f.field("name", "Name").Need()
	p.Timezone = f.field("timezone", "Time zone").Need().WithHint("For example Europe/London: it decides what today is there.")
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

func (s *server) createSite(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Site{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Timezone: f.text("timezone")}
	_, err := s.svc.Lists.CreateSite(v.ctx(), v.actor, in)
	if again(err) {
		f.take(err, nil)
		return s.sitesForm(v, f, err)
	}
	if err == nil {
		v.Redirect(http.StatusSeeOther, "/sites")
	}
	return err
}
