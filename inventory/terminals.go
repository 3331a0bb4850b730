package inventory

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// How long a one-time link can be opened.
const (
	WelcomeLife = time.Hour
	EnrolLife   = 15 * time.Minute
)

// Terminals lists all terminals, also those that were revoked.
func (s *Service) Terminals(ctx context.Context, by Actor) ([]Terminal, error) {
	return read(ctx, s, func(r Reader) ([]Terminal, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return nil, err
		}
		return r.Terminals()
	})
}

// AddTerminal names a terminal of a station, or of all stations for an empty
// site. Nobody can sign in on it before it is enrolled.
func (s *Service) AddTerminal(ctx context.Context, by Actor, name, site string) (Terminal, error) {
	return write(ctx, s, func(w Writer) (Terminal, error) {
		t := Terminal{Name: oneLine(name), Site: site, CreatedAt: s.Now(), CreatedBy: by.Name}
		if err := by.must(ActKeepPeople, ""); err != nil {
			return t, err
		}
		var ps problems
		checkText(&ps, "name", t.Name, true, 60)
		if site != "" {
			if err := knownSites(w, &ps, []string{site}); err != nil {
				return t, err
			}
		}
		if err := ps.err(); err != nil {
			return t, err
		}
		all, err := w.Terminals()
		if err != nil {
			return t, err
		}
		if slices.ContainsFunc(all, func(x Terminal) bool { return x.Name == t.Name && x.RevokedAt == 0 }) {
			return t, Errorf(Conflict, "a terminal has that name already")
		}
		if t, err = w.AddTerminal(t); err != nil {
			return t, err
		}
		return t, w.AddDeeds([]Deed{s.aboutTerminal(by, DeedTerminalAdded, t)})
	})
}

func (s *Service) aboutTerminal(by Actor, kind DeedKind, t Terminal) Deed {
	return Deed{At: s.Now(), By: by.Name, From: by.From, Kind: kind, Site: t.Site, Detail: t.Name}
}

// EnrolLink makes the one-time link that enrols a terminal, in the place of the
// one before, and returns its secret.
func (s *Service) EnrolLink(ctx context.Context, by Actor, terminal int64) (secret string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return "", err
		}
		if err := by.mustConfirm(s.Now()); err != nil {
			return "", err
		}
		if _, err := waitingTerminal(w, terminal); err != nil {
			return "", err
		}
		secret := newSecret()
		return secret, w.AddLink(Link{Hash: hashSecret(secret), For: LinkEnrol, Terminal: terminal, EndsAt: s.Now().Add(EnrolLife)})
	})
}

// waitingTerminal returns a terminal that may be enrolled. One that is enrolled
// already may be again, after its cookie was lost: the cookie before ends.
func waitingTerminal(r Reader, id int64) (Terminal, error) {
	t, err := r.Terminal(id)
	if err == nil && t.RevokedAt != 0 {
		err = Errorf(Conflict, "this terminal was revoked: add a new one")
	}
	return t, err
}

// EnrolHere enrols the browser that an administrator sits at and returns the
// secret for its cookie.
func (s *Service) EnrolHere(ctx context.Context, by Actor, terminal int64) (secret string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return "", err
		}
		if err := by.mustConfirm(s.Now()); err != nil {
			return "", err
		}
		return s.enrol(w, by, terminal)
	})
}

// EnrolByLink enrols the browser that opened a one-time link, which is used up
// by it, and returns the secret for its cookie.
func (s *Service) EnrolByLink(ctx context.Context, link string) (secret string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		l, err := openLink(w, link, LinkEnrol, s.Now())
		if err != nil {
			return "", err
		}
		if err := w.UseLink(l.Hash); err != nil {
			return "", linkGone(err)
		}
		return s.enrol(w, Actor{Name: "one-time link"}, l.Terminal)
	})
}

func (s *Service) enrol(w Writer, by Actor, terminal int64) (string, error) {
	t, err := waitingTerminal(w, terminal)
	if err != nil {
		return "", err
	}
	secret := newSecret()
	t.Hash, t.EnrolledAt = hashSecret(secret), s.Now()
	if err := w.UpdateTerminal(t); err != nil {
		return "", err
	}
	if err := w.EndSessions(0, t.ID); err != nil { // of the browser that had it before
		return "", err
	}
	return secret, w.AddDeeds([]Deed{s.aboutTerminal(by, DeedTerminalEnrolled, t)})
}

// LinkTerminal returns the terminal that a one-time link would enrol; opening
// the page alone uses nothing up.
func (s *Service) LinkTerminal(ctx context.Context, link string) (Terminal, error) {
	return read(ctx, s, func(r Reader) (Terminal, error) {
		l, err := openLink(r, link, LinkEnrol, s.Now())
		if err != nil {
			return Terminal{}, err
		}
		return r.Terminal(l.Terminal)
	})
}

// openLink returns a link that can still be used. Why it cannot is told to
// nobody.
func openLink(r Reader, secret string, kind LinkKind, now Instant) (Link, error) {
	l, err := r.Link(hashSecret(secret))
	if err == nil && (l.For != kind || now > l.EndsAt) {
		err = Errorf(NotFound, "link")
	}
	return l, linkGone(err)
}

func linkGone(err error) error {
	if KindOf(err) == NotFound {
		return Errorf(NotFound, "this link was used already, or has ended; ask for a new one")
	}
	return err
}

// RevokeTerminal takes a terminal's right away for good, and signs everybody
// out who is signed in on it.
func (s *Service) RevokeTerminal(ctx context.Context, by Actor, id int64) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return err
		}
		t, err := waitingTerminal(w, id)
		if err != nil {
			return err
		}
		t.RevokedAt = s.Now()
		if err := w.UpdateTerminal(t); err != nil {
			return err
		}
		if err := w.EndSessions(0, t.ID); err != nil {
			return err
		}
		return w.AddDeeds([]Deed{s.aboutTerminal(by, DeedTerminalRevoked, t)})
	})
}

// TerminalOf returns the terminal behind a cookie's secret, or an empty one
// where there is none.
func (s *Service) TerminalOf(ctx context.Context, secret string) (Terminal, error) {
	return read(ctx, s, func(r Reader) (Terminal, error) { return liveTerminal(r, secret) })
}

// WelcomeLink makes the one-time link by which the first administrator is made,
// in the place of the one before, and returns its secret; empty where there is
// an administrator.
func (s *Service) WelcomeLink(ctx context.Context) (secret string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		if err := noAdministrator(w); KindOf(err) == NotFound {
			return "", nil
		} else if err != nil {
			return "", err
		}
		secret := newSecret()
		return secret, w.AddLink(Link{Hash: hashSecret(secret), For: LinkWelcome, EndsAt: s.Now().Add(WelcomeLife)})
	})
}

// noAdministrator refuses where somebody can let people in already.
func noAdministrator(r Reader) error {
	people, err := r.People()
	if err == nil && slices.ContainsFunc(people, Person.keeps) {
		err = Errorf(NotFound, "this link was used already, or has ended; ask for a new one")
	}
	return err
}

// LookAtWelcome tells whether a welcome link can still be used.
func (s *Service) LookAtWelcome(ctx context.Context, link string) error {
	return s.Store.Read(ctx, func(_ context.Context, r Reader) error {
		_, err := openLink(r, link, LinkWelcome, s.Now())
		return cmp.Or(err, noAdministrator(r))
	})
}

// Welcome makes the first administrator by a one-time link, which is used up by
// it; a name or password that is refused leaves the link as it is.
func (s *Service) Welcome(ctx context.Context, link, name, secret string, h Secrets) (Person, error) {
	return write(ctx, s, func(w Writer) (Person, error) {
		l, err := openLink(w, link, LinkWelcome, s.Now())
		if err != nil {
			return Person{}, err
		}
		if err := noAdministrator(w); err != nil {
			return Person{}, err
		}
		if err := w.UseLink(l.Hash); err != nil {
			return Person{}, linkGone(err)
		}
		return s.addPerson(w, Actor{Name: "one-time link"}, Person{Name: name, Role: Administrator}, secret, h)
	})
}
