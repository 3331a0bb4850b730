package web

import (
	"strings"

	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
)

type accountPage struct {
	Base
	Changed, PIN            bool
	Old, Secret, Again, Own Field
	Sessions                []account.SessionView
}

func (s *server) accountForm(v *visit, f *form, failed error) error {
	sessions, err := s.svc.Account.Sessions(v.ctx(), v.actor, v.actor.Name)
	if err != nil {
		return err
	}
	p := &accountPage{Base: Base{Title: message.M("Your account")}, PIN: v.actor.Role.UsesPIN(),
		Changed: v.Query("done") == "secret"}
	p.Sessions = sessions
	now, fresh, again := message.M("Current password"), message.M("New password"), message.M("Repeat password")
	if p.PIN {
		now, fresh, again = message.M("Current PIN"), message.M("New PIN"), message.M("Repeat PIN")
	}
	p.Old, p.Secret = secretField(f, "old", now), secretField(f, "secret", fresh)
	p.Again = secretField(f, "again", again)
	p.Own = v.confirmField(f, "").WithHint(message.M("Asked before ending a sign-in."))
	return s.renderForm(v, f, p, failed)
}

// secretField is a field for a PIN or password: what was typed is never shown.
// Helpers that keep passwords are told which one is meant.
func secretField(f *form, name string, label message.Message) Field {
	x := f.field(name, label).Need()
	x.Kind, x.Value, x.Fill = "password", "", "new-password"
	if name == "old" || strings.HasPrefix(name, ownPassword) {
		x.Fill = "current-password"
	}
	return x
}

// twice reads a new secret that must be typed twice.
func twice(f *form) string {
	secret := f.values.Get("secret")
	if secret != f.values.Get("again") {
		f.wrong("again", message.M("differs: enter it again"))
	}
	return secret
}

func (s *server) changeSecret(v *visit, f *form) error {
	secret := twice(f)
	if err := f.err(); err != nil {
		return err
	}
	f.proves = true
	cookie, _ := v.Request.Cookie(s.opt.CookieName) // it is there, since somebody is signed in
	fresh, err := s.svc.Account.ChangeOwnSecret(v.ctx(), v.actor, cookie.Value, f.values.Get("old"), secret, s.opt.Secrets)
	if err != nil {
		return err
	}
	s.setCookie(v, fresh)
	return v.to("/account?done=secret")
}

// endSessions ends one of the visitor's sessions, or all of them, once they have proven themselves again.
func (s *server) endSessions(v *visit, f *form) error {
	ref := f.text("ref")
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	if err := s.svc.Account.EndSessions(v.ctx(), v.actor, v.actor.Name, ref); err != nil {
		return err
	}
	if ref == account.AllSessions {
		s.setCookie(v, "")
	}
	return v.to("/account")
}
