package web

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// ownPassword is the field in which a visitor types their own secret once more, before they change who gets in.
const ownPassword = "own_password"

// confirmField asks the visitor for their own PIN or password once more. where
// tells it apart from the same field in another form of the page.
func (v *visit) confirmField(f *form, where string) Field {
	label := message.M("Your password")
	if v.actor.Role.UsesPIN() {
		label = message.M("Your PIN")
	}
	return secretField(f, ownPassword+where, label)
}

// confirm proves the visitor once more by what they typed, and gives their
// browser the session that takes the place of the one before.
func (s *server) confirm(v *visit, f *form, where string) error {
	f.proves = true
	cookie, err := v.Request.Cookie(s.opt.CookieName)
	if err != nil {
		return inventory.Refuse(inventory.SignedOut, "sign in first")
	}
	by, fresh, err := s.svc.Account.Confirm(v.ctx(), v.actor, cookie.Value, f.values.Get(ownPassword+where), s.opt.Secrets)
	if err != nil {
		return err
	}
	v.actor = by
	v.Request = v.Request.WithContext(inventory.Acting(v.ctx(), by))
	s.setCookie(v, fresh)
	return nil
}

// ownIn is the name of a wrong field in a form with the visitor's own secret.
func ownIn(where string) func(path string) string {
	return func(path string) string {
		if path == ownPassword {
			return path + where
		}
		return path
	}
}
