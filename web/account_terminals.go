package web

import (
	"bytes"
	"net/http"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
	"stowkeeper/labels"
)

type terminalsPage struct {
	Base
	Rows          []inventory.Terminal
	MayEnrol      bool // one of them, from here
	Name, Station Field
	Own, OwnNew   Field  // the administrator's own password, for the list and for the new one
	This          string // the terminal that this browser is
}

func (s *server) terminalsForm(v *visit, f *form, failed error) error {
	all, err := s.svc.Account.Terminals(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &terminalsPage{Base: Base{Title: message.M("Terminals")}, Rows: all, This: s.terminalName(v)}
	p.MayEnrol = slices.ContainsFunc(all, func(t inventory.Terminal) bool {
		return t.RevokedAt == 0 && (t.Name != p.This || !t.Live())
	})
	p.Name = f.field("name", message.M("Name")).Need().WithHint(message.M("e.g. Garage phone"))
	p.Station = v.anyStation(f)
	p.Own, p.OwnNew = v.confirmField(f, "").WithHint(message.M("Asked before enrolling.")), v.confirmField(f, forNew)
	return s.renderForm(v, f, p, failed)
}

// forNew tells the fields of a new terminal's form from those of the list.
const forNew = "_new"

func (s *server) addTerminal(v *visit, f *form) error {
	f.names = ownIn(forNew)
	if err := s.confirm(v, f, forNew); err != nil {
		return err
	}
	t, err := s.svc.Account.AddTerminal(v.ctx(), v.actor, f.text("name"), f.text("station"))
	if err != nil {
		return err
	}
	if f.text("how") == "here" {
		return s.enrolThisBrowser(v, t.ID)
	}
	return s.showEnrolLink(v, t)
}

// changeTerminal enrols a terminal, here or by a link, or revokes it.
func (s *server) changeTerminal(v *visit, f *form) error {
	id, how := paramID(v, "terminal"), f.text("how")
	if how == "here" || how == "link" {
		if err := s.confirm(v, f, ""); err != nil {
			return err
		}
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
		return inventory.Refuse(inventory.NotFound, "not found")
	case "revoke":
		if err := s.svc.Account.RevokeTerminal(v.ctx(), v.actor, id); err != nil {
			return err
		}
		return v.to("/terminals")
	}
	return inventory.Refuse(inventory.Invalid, "choose from the list")
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
	Terminal, Link string
	QR             []byte // SVG, drawn by us: shapes, no text of anybody
	Minutes        int
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
	return s.render(v, http.StatusOK, &enrolLinkPage{Base: Base{Title: message.M("Enrol {1}", t.Name)}, Terminal: t.Name,
		Link: link, QR: drawn.Bytes(), Minutes: int(account.EnrolLife.Minutes())})
}
