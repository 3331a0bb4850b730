package inventory

import (
	"cmp"
	"context"
)

// confirmField is the field in which somebody who is signed in types their own
// secret once more.
const confirmField = "own_password"

// Confirm has somebody who is signed in prove themselves once more, as whoever
// changes who gets in must (OWASP ASVS 5.0.0, 7.5.1 and 7.5.2): a phone left
// lying, signed in, lets nobody else in. It returns the actor as the use cases
// take it for that change, and the secret of the session that takes the place
// of the one before. Wrong tries count for the session alone.
func (s *Service) Confirm(ctx context.Context, by Actor, cookie, secret string, h Secrets) (Actor, string, error) {
	if err := by.must(ActAccount, ""); err != nil {
		return by, "", err
	}
	sess, p, err := s.ownSession(ctx, by, cookie)
	if err != nil {
		return by, "", err
	}
	if secret == "" {
		return by, "", errUnconfirmed()
	}
	if err := s.proveAgain(ctx, p, sess, secret, confirmField, h); err != nil {
		return by, "", err
	}
	fresh := newSecret()
	old := sess.Hash
	sess.Hash, sess.SeenAt = hashSecret(fresh), s.Now()
	err = s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		now, err := w.LockPerson(p.ID)
		if err != nil || now.SecretHash != p.SecretHash || now.Role != p.Role || now.Disabled {
			return cmp.Or(err, errSignedOut())
		}
		if _, err := w.Session(old); err != nil { // ended in between
			return err
		}
		if err := w.EndSession(old); err != nil {
			return err
		}
		return w.AddSession(sess)
	})
	if KindOf(err) == NotFound {
		err = errSignedOut()
	}
	if err != nil {
		return by, "", err
	}
	by.Session, by.confirmed = sess.Ref(), s.Now()
	return by, fresh, nil
}

// errUnconfirmed asks for the actor's own secret.
func errUnconfirmed() error {
	return Invalidf(confirmField, "type your own PIN or password once more")
}

// mustConfirm refuses a change of who gets in to a session whose person has not
// just proven themselves. Programs with a token and the command line have no
// session that somebody could find open.
func (a Actor) mustConfirm(now Instant) error {
	if a.Session == "" || a.confirmed != 0 && now <= a.confirmed.Add(signingHolds) {
		return nil
	}
	return errUnconfirmed()
}
