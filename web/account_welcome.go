package web

import (
	"net/http"

	"stowkeeper/inventory/message"
)

// Pages behind one-time links. Their addresses are secrets: they are not told to other pages.
func oneTime(v *visit) {
	v.Header("Referrer-Policy", "no-referrer")
}

type welcomePage struct {
	Base
	Link                string
	Name, Secret, Again Field
}

func (s *server) welcomeForm(v *visit, f *form, failed error) error {
	if err := s.svc.Account.LookAtWelcome(v.ctx(), v.Param("link")); err != nil {
		return err
	}
	oneTime(v)
	p := &welcomePage{Base: Base{Title: message.M("First administrator")}, Link: v.Param("link")}
	p.Name = f.field("name", message.M("Full name")).Need()
	p.Secret = secretField(f, "secret", message.M("Password")).WithHint(
		message.M("At least 12 characters, e.g. three or four unrelated words."))
	p.Again = secretField(f, "again", message.M("Repeat password"))
	return s.renderForm(v, f, p, failed)
}

// welcome makes the first administrator, who then signs in.
func (s *server) welcome(v *visit, f *form) error {
	secret := twice(f)
	if err := f.err(); err != nil {
		return err
	}
	if _, err := s.svc.Account.Welcome(v.ctx(), v.Param("link"), f.text("name"), secret, s.opt.Secrets); err != nil {
		return err
	}
	return v.to("/sign-in")
}

type enrolPage struct {
	Base
	Link, Terminal, Station string
}

func (s *server) showEnrol(v *visit) error {
	t, err := s.svc.Account.LinkTerminal(v.ctx(), v.Param("link"))
	if err != nil {
		return err
	}
	oneTime(v)
	return s.render(v, http.StatusOK, &enrolPage{Base: Base{Title: message.M("Enrol this browser")}, Link: v.Param("link"),
		Terminal: t.Name, Station: t.Station})
}

func (s *server) enrol(v *visit) error {
	secret, err := s.svc.Account.EnrolByLink(v.ctx(), v.Param("link"))
	if err != nil {
		return err
	}
	s.setTerminal(v, secret)
	return v.to("/sign-in")
}
