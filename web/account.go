package web

import (
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// SessionRow is one session on a page.
type SessionRow struct {
	Ref         string
	From        string
	Began, Seen When
	Here        bool
}

func sessionRows(all []account.SessionView) []SessionRow {
	var rows []SessionRow
	for _, x := range all {
		rows = append(rows, SessionRow{x.Ref, x.From, whenAt(x.CreatedAt, inventory.Station{Timezone: "UTC"}),
			whenAt(x.SeenAt, inventory.Station{Timezone: "UTC"}), x.Here})
	}
	return rows
}

type accountPage struct {
	Base
	Form        Form
	Changed     bool
	PIN         bool
	Old, Secret Field
	Again, Own  Field
	Sessions    []SessionRow
}

func (s *server) showAccount(v *visit) error { return s.accountForm(v, openForm(nil), nil) }

func (s *server) accountForm(v *visit, f *form, failed error) error {
	sessions, err := s.svc.Account.Sessions(v.ctx(), v.actor, v.actor.Name)
	if err != nil {
		return err
	}
	p := &accountPage{Base: Base{Title: "Your account"}, PIN: v.actor.Role.UsesPIN(), Changed: v.Query("done") == "secret"}
	p.Sessions = sessionRows(sessions)
	word := "password"
	if p.PIN {
		word = "PIN"
	}
	p.Old = secretField(f, "old", "Your "+word+" now")
	p.Secret = secretField(f, "secret", "New "+word)
	p.Again = secretField(f, "again", "New "+word+" once more")
	p.Own = v.confirmField(f, "").WithHint("Asked before a sign-in is ended.")
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// secretField is a field for a PIN or password: what was typed is never shown.
// Helpers that keep passwords are told which one is meant.
func secretField(f *form, name, label string) Field {
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
		f.wrong("again", "type the same once more")
	}
	return secret
}

func (s *server) changeSecret(v *visit) error {
	f := openForm(v.Request.PostForm)
	secret := twice(f)
	err := f.err()
	if err == nil {
		var fresh string
		cookie, _ := v.Request.Cookie(s.opt.CookieName) // it is there, since somebody is signed in
		fresh, err = s.svc.Account.ChangeOwnSecret(v.ctx(), v.actor, cookie.Value, f.values.Get("old"), secret, s.opt.Secrets)
		if err == nil {
			s.setCookie(v, fresh)
			return v.to("/account?done=secret")
		}
	}
	if onForm(err) {
		f.take(err, nil)
		return s.accountForm(v, f, err)
	}
	return err
}

// endSessions ends one of the visitor's sessions, or all of them, once they
// have proven themselves again.
func (s *server) endSessions(v *visit) error {
	f := openForm(v.Request.PostForm)
	ref := f.text("ref")
	err := s.confirm(v, f, "")
	if err == nil {
		err = s.svc.Account.EndSessions(v.ctx(), v.actor, v.actor.Name, ref)
	}
	if onForm(err) {
		f.take(err, nil)
		return s.accountForm(v, f, err)
	}
	if err != nil {
		return err
	}
	if ref == account.AllSessions {
		s.setCookie(v, "")
	}
	return v.to("/account")
}
