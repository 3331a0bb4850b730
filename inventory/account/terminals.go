package account

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
)

// How long a one-time link can be opened.
const (
	WelcomeLife = time.Hour
	EnrolLife   = 15 * time.Minute
)

// Terminals lists all terminals by id, also those that were revoked. Refuses: Forbidden without keep_people.
func (s *Service) Terminals(ctx context.Context, by inventory.Actor) ([]inventory.Terminal, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Terminal, error) {
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return nil, err
		}
		return r.Terminals()
	})
}

// AddTerminal names a terminal of a station, or of all stations for an empty station. Nobody can sign in on it
// before it is enrolled. Refuses: Forbidden without keep_people; Invalid by field; Conflict where one in use has
// that name.
func (s *Service) AddTerminal(ctx context.Context, by inventory.Actor, name, station string) (inventory.Terminal,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Terminal, error) {
		t := inventory.Terminal{Name: inventory.OneLine(name), Station: station, CreatedAt: s.now(), CreatedBy: by.Name}
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return t, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "name", t.Name, true, 60)
		if station != "" {
			if err := knownStations(w, &ps, []string{station}); err != nil {
				return t, err
			}
		}
		if err := ps.Err(); err != nil {
			return t, err
		}
		all, err := w.Terminals()
		if err != nil {
			return t, err
		}
		if slices.ContainsFunc(all, func(x inventory.Terminal) bool { return x.Name == t.Name && x.RevokedAt == 0 }) {
			return t, inventory.Errorf(inventory.Conflict, "a terminal has that name already")
		}
		if t, err = w.AddTerminal(t); err != nil {
			return t, err
		}
		return t, w.AddHistory([]inventory.HistoryEntry{s.aboutTerminal(by, inventory.HistoryTerminalAdded, t)})
	})
}

func (s *Service) aboutTerminal(by inventory.Actor, kind inventory.HistoryKind,
	t inventory.Terminal) inventory.HistoryEntry {
	return inventory.HistoryEntry{RecordedAt: s.now(), By: by.Name, From: by.From, Kind: kind, Station: t.Station,
		Detail: t.Name}
}

// EnrolLink makes the one-time link that enrols a terminal, good for EnrolLife, in the place of the one before, and
// returns its secret. Refuses: Forbidden without keep_people; Invalid where the actor has not just confirmed;
// NotFound; Conflict for one that was revoked.
func (s *Service) EnrolLink(ctx context.Context, by inventory.Actor, terminal int64) (secret string, err error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (string, error) {
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return "", err
		}
		if err := by.MustConfirm(s.now()); err != nil {
			return "", err
		}
		if _, err := waitingTerminal(w, terminal); err != nil {
			return "", err
		}
		secret := newSecret()
		return secret, w.AddLink(inventory.Link{Hash: inventory.HashSecret(secret), For: inventory.LinkEnrol,
			Terminal: terminal, EndsAt: s.now().Add(EnrolLife)})
	})
}

// waitingTerminal returns a terminal that may be enrolled. One that is enrolled
// already may be again, after its cookie was lost: the cookie before ends.
func waitingTerminal(r inventory.Reader, id int64) (inventory.Terminal, error) {
	t, err := r.Terminal(id)
	if err == nil && t.RevokedAt != 0 {
		err = inventory.Errorf(inventory.Conflict, "this terminal was revoked: add a new one")
	}
	return t, err
}

// EnrolHere enrols the browser that an administrator sits at and returns the secret for its cookie; sessions on the
// terminal end. Refuses as EnrolLink does: Forbidden, Invalid, NotFound, Conflict.
func (s *Service) EnrolHere(ctx context.Context, by inventory.Actor, terminal int64) (secret string, err error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (string, error) {
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return "", err
		}
		if err := by.MustConfirm(s.now()); err != nil {
			return "", err
		}
		return s.enrol(w, by, terminal)
	})
}

// EnrolByLink enrols the browser that opened a one-time link, which is used up by it, and returns the secret for its
// cookie. Nobody need be signed in. Refuses: NotFound for a link that was used or has ended; Conflict for a terminal
// that was revoked.
func (s *Service) EnrolByLink(ctx context.Context, link string) (secret string, err error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (string, error) {
		l, err := openLink(w, link, inventory.LinkEnrol, s.now())
		if err != nil {
			return "", err
		}
		if err := w.UseLink(l.Hash); err != nil {
			return "", linkGone(err)
		}
		return s.enrol(w, inventory.Actor{Name: "one-time link"}, l.Terminal)
	})
}

func (s *Service) enrol(w inventory.Writer, by inventory.Actor, terminal int64) (string, error) {
	t, err := waitingTerminal(w, terminal)
	if err != nil {
		return "", err
	}
	secret := newSecret()
	t.Hash, t.EnrolledAt = inventory.HashSecret(secret), s.now()
	if err := w.UpdateTerminal(t); err != nil {
		return "", err
	}
	if err := w.EndSessions(0, t.ID); err != nil { // of the browser that had it before
		return "", err
	}
	return secret, w.AddHistory([]inventory.HistoryEntry{s.aboutTerminal(by, inventory.HistoryTerminalEnrolled, t)})
}

// LinkTerminal returns the terminal that a one-time link would enrol; opening the page alone uses nothing up.
// Refuses: NotFound for a link that was used or has ended.
func (s *Service) LinkTerminal(ctx context.Context, link string) (inventory.Terminal, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Terminal, error) {
		l, err := openLink(r, link, inventory.LinkEnrol, s.now())
		if err != nil {
			return inventory.Terminal{}, err
		}
		return r.Terminal(l.Terminal)
	})
}

// openLink returns a link that can still be used. Why it cannot is told to
// nobody.
func openLink(r inventory.Reader, secret string, kind inventory.LinkKind, now inventory.Instant) (inventory.Link,
	error) {
	l, err := r.Link(inventory.HashSecret(secret))
	if err == nil && (l.For != kind || now > l.EndsAt) {
		err = inventory.Errorf(inventory.NotFound, "link")
	}
	return l, linkGone(err)
}

func linkGone(err error) error {
	if inventory.KindOf(err) == inventory.NotFound {
		return inventory.Errorf(inventory.NotFound, "this link was used already, or has ended; ask for a new one")
	}
	return err
}

// RevokeTerminal takes a terminal's right away for good, and signs everybody out who is signed in on it. Refuses:
// Forbidden without keep_people; NotFound; Conflict where it was revoked before.
func (s *Service) RevokeTerminal(ctx context.Context, by inventory.Actor, id int64) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return err
		}
		t, err := waitingTerminal(w, id)
		if err != nil {
			return err
		}
		t.RevokedAt = s.now()
		if err := w.UpdateTerminal(t); err != nil {
			return err
		}
		if err := w.EndSessions(0, t.ID); err != nil {
			return err
		}
		return w.AddHistory([]inventory.HistoryEntry{s.aboutTerminal(by, inventory.HistoryTerminalRevoked, t)})
	})
}

// TerminalOf returns the terminal behind a cookie's secret, or an empty one where there is none. It never refuses.
func (s *Service) TerminalOf(ctx context.Context, secret string) (inventory.Terminal, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Terminal, error) {
		return liveTerminal(r,
			secret)
	})
}

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
		err = inventory.Errorf(inventory.NotFound, "this link was used already, or has ended; ask for a new one")
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
