package account

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
)

// EnrolLife is how long the link that enrols a terminal can be opened.
const EnrolLife = 15 * time.Minute

// Terminals lists all terminals by id, also those that were revoked. Refuses: Forbidden without keep_people.
func (s *Service) Terminals(ctx context.Context, by inventory.Actor) ([]inventory.Terminal, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople, inventory.Reader.Terminals)
}

// AddTerminal names a terminal of a station, or of all stations for an empty station. Nobody can sign in on it before
// it is enrolled. Refuses: Forbidden without keep_people, and for more than the actor may do; Invalid by field;
// Conflict where one in use has that name.
func (s *Service) AddTerminal(ctx context.Context, by inventory.Actor, name, station string) (inventory.Terminal,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Terminal, error) {
		t := inventory.Terminal{Name: inventory.OneLine(name), Station: station, CreatedAt: s.now(), CreatedBy: by.Name}
		if err := cmp.Or(by.Must(inventory.ActKeepPeople, ""), by.MustGrant(t.Grants())); err != nil {
			return t, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "name", t.Name, true, 60)
		if station != "" {
			if err := knownStations(w, &ps, []string{station}, []string{station}); err != nil {
				return t, err
			}
		}
		if err := ps.Err(); err != nil {
			return t, err
		}
		if at, err := w.Station(station); err == nil && at.Closed() {
			return t, at.MustBeOpen()
		}
		all, err := w.Terminals()
		if err != nil {
			return t, err
		}
		if slices.ContainsFunc(all, func(x inventory.Terminal) bool { return x.Name == t.Name && x.RevokedAt == 0 }) {
			return t, inventory.Refuse(inventory.Conflict, "name already used")
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
// returns its secret. Refuses: Forbidden without keep_people, and for more than the actor may do; Invalid where the
// actor has not just confirmed; NotFound; Conflict for one that was revoked.
func (s *Service) EnrolLink(ctx context.Context, by inventory.Actor, terminal int64) (secret string, err error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (string, error) {
		if err := by.MustConfirm(s.now()); err != nil {
			return "", err
		}
		t, err := waitingTerminal(w, terminal)
		if err = cmp.Or(err, by.MustGrant(t.Grants())); err != nil {
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
		err = inventory.Refuse(inventory.Conflict, "terminal revoked: add a new one")
	}
	return t, err
}

// EnrolHere enrols the browser that an administrator sits at and returns the secret for its cookie; sessions on the
// terminal end. Refuses as EnrolLink does: Forbidden, Invalid, NotFound, Conflict.
func (s *Service) EnrolHere(ctx context.Context, by inventory.Actor, terminal int64) (secret string, err error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (string, error) {
		if err := by.MustConfirm(s.now()); err != nil {
			return "", err
		}
		t, err := waitingTerminal(w, terminal)
		if err = cmp.Or(err, by.MustGrant(t.Grants())); err != nil {
			return "", err
		}
		return s.enrol(w, by, t)
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
		t, err := waitingTerminal(w, l.Terminal)
		if err != nil {
			return "", err
		}
		return s.enrol(w, inventory.Actor{Name: "one-time link"}, t)
	})
}

func (s *Service) enrol(w inventory.Writer, by inventory.Actor, t inventory.Terminal) (string, error) {
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

// openLink returns a link that can still be used. Why it cannot is told to nobody.
func openLink(r inventory.Reader, secret string, kind inventory.LinkKind, now inventory.Instant) (inventory.Link,
	error) {
	l, err := r.Link(inventory.HashSecret(secret))
	if err == nil && (l.For != kind || now > l.EndsAt) {
		err = inventory.Refuse(inventory.NotFound, "link")
	}
	return l, linkGone(err)
}

func linkGone(err error) error {
	if inventory.KindOf(err) == inventory.NotFound {
		return inventory.Refuse(inventory.NotFound, "link used or expired: ask for a new one")
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
		return liveTerminal(r, secret)
	})
}
