package web

import "net/http"

// Pages behind one-time links. Their addresses are secrets: they are not told
// to other pages.
func oneTime(v *visit) {
	v.Header("Referrer-Policy", "no-referrer")
}

type welcomePage struct {
	Base
	Form                Form
	Link                string
	Name, Secret, Again Field
}

func (s *server) showWelcome(v *visit) error {
	if err := s.svc.Account.LookAtWelcome(v.ctx(), v.Param("link")); err != nil {
		return err
	}
	return s.welcomeForm(v, openForm(nil), nil)
}

func (s *server) welcomeForm(v *visit, f *form, failed error) error {
	oneTime(v)
	p := &welcomePage{Base: Base{Title: "The first administrator"}, Link: v.Param("link")}
	p.Name = f.field("name", "Your full name").Need()
	p.Secret = secretField(f, "secret", "Password").WithHint(
		"At least 12 characters: three or four words that do not belong together.")
	p.Again = secretField(f, "again", "Password once more")
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// welcome makes the first administrator, who then signs in.
func (s *server) welcome(v *visit) error {
	f := openForm(v.Request.PostForm)
	secret := twice(f)
	err := f.err()
	if err == nil {
		_, err = s.svc.Account.Welcome(v.ctx(), v.Param("link"), f.text("name"), secret, s.opt.Secrets)
	}
	if err == nil {
		v.Redirect(http.StatusSeeOther, "/sign-in")
	}
	return f.fix(v, err, nil, s.welcomeForm)
}

type enrolPage struct {
	Base
	Link     string
	Terminal string
	Station  string
}

func (s *server) showEnrol(v *visit) error {
	t, err := s.svc.Account.LinkTerminal(v.ctx(), v.Param("link"))
	if err != nil {
		return err
	}
	oneTime(v)
	return s.render(v, http.StatusOK, &enrolPage{Base: Base{Title: "Enrol this browser"}, Link: v.Param("link"),
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
