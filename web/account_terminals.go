package web

import (
	"bytes"
	"net/http"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/labels"
)

// TerminalRow is one terminal in the list.
type TerminalRow struct {
	ID             int64
	Name, Station  string
	Enrolled       When
	LastUsed       inventory.Day
	Live, Revoked  bool
	ThisBrowser    bool
	RevokedOn      When
	MayEnrolAction bool
}

type terminalsPage struct {
	Base
	Form          Form
	Rows          []TerminalRow
	MayEnrol      bool // one of them, from here
	Name, Station Field
	Own, OwnNew   Field  // the administrator's own password, for the list and for the new one
	This          string // the terminal that this browser is
}

func (s *server) showTerminals(v *visit) error { return s.terminalsForm(v, openForm(nil), nil) }

func (s *server) terminalsForm(v *visit, f *form, failed error) error {
	all, err := s.svc.Account.Terminals(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &terminalsPage{Base: Base{Title: "Terminals"}, This: s.terminalName(v)}
	utc := inventory.Station{Timezone: "UTC"}
	for _, t := range all {
		row := TerminalRow{ID: t.ID, Name: t.Name, Station: t.Station, Enrolled: whenAt(t.EnrolledAt, utc),
			LastUsed: t.LastUsed, Live: t.Live(),
			Revoked: t.RevokedAt != 0, RevokedOn: whenAt(t.RevokedAt, utc), ThisBrowser: t.Live() && t.Name == p.This}
		row.MayEnrolAction = !row.Revoked && !row.ThisBrowser
		p.MayEnrol = p.MayEnrol || row.MayEnrolAction
		p.Rows = append(p.Rows, row)
	}
	p.Name = f.field("name", "Name, as people know it").Need().WithHint("For example: phone in the garage.")
	p.Station = v.stationField(f, "station", "Station")
	p.Station.Empty = "all stations"
	p.Own, p.OwnNew = v.confirmField(f, "").WithHint("Asked before one of these is enrolled."), v.confirmField(f, forNew)
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// forNew tells the fields of a new terminal's form from those of the list.
const forNew = "_new"

func (s *server) addTerminal(v *visit) error {
	f := openForm(v.Request.PostForm)
	var t inventory.Terminal
	err := s.confirm(v, f, forNew)
	if err == nil {
		t, err = s.svc.Account.AddTerminal(v.ctx(), v.actor, f.text("name"), f.text("station"))
	}
	if onForm(err) {
		f.takeConfirm(err, forNew)
		return s.terminalsForm(v, f, err)
	}
	if err != nil {
		return err
	}
	if f.text("how") == "here" {
		return s.enrolThisBrowser(v, t.ID)
	}
	return s.showEnrolLink(v, t)
}

// terminalID is the terminal that the path names.
func terminalID(v *visit) (int64, error) {
	id, err := strconv.ParseInt(v.Param("terminal"), 10, 64)
	if err != nil {
		return 0, inventory.Errorf(inventory.NotFound, "no such terminal")
	}
	return id, nil
}

// changeTerminal enrols a terminal, here or by a link, or revokes it.
func (s *server) changeTerminal(v *visit) error {
	id, err := terminalID(v)
	if err != nil {
		return err
	}
	how, f := v.PostForm("how"), openForm(v.Request.PostForm)
	if how == "here" || how == "link" {
		err = s.confirm(v, f, "")
	}
	if onForm(err) {
		f.take(err, nil)
		return s.terminalsForm(v, f, err)
	}
	if err != nil {
		return err
	}
	switch how {
	case "here":
		return s.enrolThisBrowser(v, id)
	case "link":
		all, err := s.svc.Account.Terminals(v.ctx(), v.actor)
		if err != nil {
			return err
		}
		for _, t := range all {
			if t.ID == id {
				return s.showEnrolLink(v, t)
			}
		}
		return inventory.Errorf(inventory.NotFound, "no such terminal")
	case "revoke":
		if err := s.svc.Account.RevokeTerminal(v.ctx(), v.actor, id); err != nil {
			return err
		}
		return v.to("/terminals")
	}
	return inventory.Errorf(inventory.Invalid, "say what to do with the terminal")
}

func (s *server) enrolThisBrowser(v *visit, id int64) error {
	secret, err := s.svc.Account.EnrolHere(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	s.setTerminal(v, secret)
	return v.to("/terminals")
}

type enrolLinkPage struct {
	Base
	Terminal string
	Link     string
	QR       []byte // SVG, drawn by us: shapes, no text of anybody
	Minutes  int
}

// showEnrolLink shows a fresh one-time link, once, as text and as a symbol.
func (s *server) showEnrolLink(v *visit, t inventory.Terminal) error {
	secret, err := s.svc.Account.EnrolLink(v.ctx(), v.actor, t.ID)
	if err != nil {
		return err
	}
	link := s.opt.BaseURL + "/enrol/" + secret
	var drawn bytes.Buffer
	if _, err := labels.WriteSVG(&drawn, labels.Bag{Code: "ENROL", Name: t.Name, Address: link}, labels.Size{W: 100,
		H: 60}); err != nil {
		return err
	}
	return s.render(v, http.StatusOK, &enrolLinkPage{Base: Base{Title: "Enrol " + t.Name}, Terminal: t.Name, Link: link,
		QR: drawn.Bytes(), Minutes: int(account.EnrolLife.Minutes())})
}
