package account

import (
	"cmp"
	"context"

	"stowkeeper/inventory"
)

// Confirm has somebody who is signed in prove themselves once more, as whoever changes who gets in must (OWASP ASVS
// 5.0.0, 7.5.1 and 7.5.2): a phone left lying, signed in, lets nobody else in. It returns the actor as the use cases
// take it for that change, and the secret of the session that takes the place of the one before. Refuses: SignedOut
// where the session has ended; Forbidden to a program; Invalid for a wrong secret or none; TooMany after wrong ones,
// which count for the session alone. Locks the person.
func (s *Service) Confirm(ctx context.Context, by inventory.Actor, cookie, secret string, h Secrets) (inventory.Actor,
	string, error) {
	if err := by.Must(inventory.ActAccount, ""); err != nil {
		return by, "", err
	}
	sess, p, err := s.ownSession(ctx, by, cookie)
	if err != nil {
		return by, "", err
	}
	if secret == "" {
		return by, "", inventory.ErrUnconfirmed()
	}
	if err := s.proveAgain(ctx, p, sess, secret, inventory.ConfirmField, h); err != nil {
		return by, "", err
	}
	fresh := newSecret()
	old := sess.Hash
	sess.Hash, sess.SeenAt = inventory.HashSecret(fresh), s.now()
	err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
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
	if inventory.KindOf(err) == inventory.NotFound {
		err = errSignedOut()
	}
	if err != nil {
		return by, "", err
	}
	by.Session, by.Confirmed = sess.Ref(), s.now()
	return by, fresh, nil
}
