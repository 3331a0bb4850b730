package account

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
)

// WelcomeLife is how long the link that makes the first administrator can be opened.
const WelcomeLife = time.Hour

// WelcomeLink makes the one-time link by which the first administrator is made, good for WelcomeLife, in the place
// of the one before, and returns its secret; empty where there is an administrator. It never refuses.
func (s *Service) WelcomeLink(ctx context.Context) (secret string, err error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (string, error) {
		if err := noAdministrator(w); inventory.KindOf(err) == inventory.NotFound {
			return "", nil
		} else if err != nil {
			return "", err
		}
		secret := newSecret()
		return secret, w.AddLink(inventory.Link{Hash: inventory.HashSecret(secret), For: inventory.LinkWelcome,
			EndsAt: s.now().Add(WelcomeLife)})
	})
}

// noAdministrator refuses where somebody can let people in already.
func noAdministrator(r inventory.Reader) error {
	people, err := r.People()
	if err == nil && slices.ContainsFunc(people, inventory.Person.CanAdminister) {
		err = inventory.Refuse(inventory.NotFound, "link used or expired: ask for a new one")
	}
	return err
}

// LookAtWelcome tells whether a welcome link can still be used. Refuses: NotFound where it cannot.
func (s *Service) LookAtWelcome(ctx context.Context, link string) error {
	return s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		_, err := openLink(r, link, inventory.LinkWelcome, s.now())
		return cmp.Or(err, noAdministrator(r))
	})
}

// Welcome makes the first administrator by a one-time link, which is used up by it; a name or password that is
// refused leaves the link as it is. Refuses: NotFound for a link that was used or has ended, or where there is an
// administrator; Invalid by field; Conflict where the name is taken.
func (s *Service) Welcome(ctx context.Context, link, name, secret string, h Secrets) (inventory.Person, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Person, error) {
		l, err := openLink(w, link, inventory.LinkWelcome, s.now())
		if err != nil {
			return inventory.Person{}, err
		}
		if err := noAdministrator(w); err != nil {
			return inventory.Person{}, err
		}
		if err := w.UseLink(l.Hash); err != nil {
			return inventory.Person{}, linkGone(err)
		}
		return s.addPerson(w, inventory.Actor{Name: "one-time link"}, inventory.Person{Name: name,
			Role: inventory.Administrator}, secret, h)
	})
}
