package account

import (
	"cmp"
	"context"
	"time"

	"stowkeeper/inventory"
)

// SessionActor returns who is behind a session's secret. Refuses: SignedOut where it is not known, has ended, or its
// person or terminal may no longer sign in. Once in ten minutes it writes when the session was last seen.
func (s *Service) SessionActor(ctx context.Context, cookie string) (inventory.Actor, error) {
	now := s.now()
	var sess inventory.Session
	actor, err := inventory.Read(ctx, s.store, func(r inventory.Reader) (a inventory.Actor, err error) {
		var p inventory.Person
		if sess, p, err = openSession(r, cookie, now); err != nil {
			return a, err
		}
		a = inventory.Actor{Name: p.Name, Role: p.Role, Stations: p.Stations, From: sess.Device, Session: sess.Ref()}
		if sess.Terminal != 0 {
			t, err := r.Terminal(sess.Terminal)
			if err != nil || !t.Live() {
				return inventory.Actor{}, cmp.Or(err, errSignedOut())
			}
			a.From = t.Name
		}
		return a, nil
	})
	if err == nil && now > sess.SeenAt.Add(10*time.Minute) {
		err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return w.TouchSession(sess.Hash, now) })
		if inventory.KindOf(err) == inventory.NotFound { // ended in between
			err = errSignedOut()
		}
	}
	if err != nil {
		return inventory.Actor{}, err
	}
	return actor, nil
}

// sessionEnded tells whether nobody may go on with a session, also since the clock was set back.
func sessionEnded(x inventory.Session, now inventory.Instant) bool {
	return now > x.EndsAt || now > x.SeenAt.Add(SessionIdle) || inventory.ClockJumped(x.SeenAt, now)
}

func errSignedOut() error { return inventory.Refuse(inventory.SignedOut, "sign in first") }

// openSession returns the session behind a secret and whose it is, unless it has ended or they may no longer sign in.
func openSession(r inventory.Reader, cookie string, now inventory.Instant) (inventory.Session, inventory.Person,
	error) {
	sess, err := r.Session(inventory.HashSecret(cookie))
	switch {
	case err != nil && inventory.KindOf(err) == inventory.NotFound:
		return sess, inventory.Person{}, errSignedOut()
	case err != nil:
		return sess, inventory.Person{}, err
	case sessionEnded(sess, now):
		return sess, inventory.Person{}, errSignedOut()
	}
	p, err := r.Person(sess.Person)
	if err != nil || p.Disabled {
		return sess, p, cmp.Or(err, errSignedOut())
	}
	return sess, p, nil
}

// ownSession returns the session behind the actor's own secret, and the person.
func (s *Service) ownSession(ctx context.Context, by inventory.Actor, cookie string) (sess inventory.Session,
	p inventory.Person, err error) {
	err = s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		sess, p, err = openSession(r, cookie, s.now())
		if err == nil && p.Name != by.Name {
			err = errSignedOut()
		}
		return err
	})
	return sess, p, err
}

// SignOut ends a session. It never refuses: one that is not there has ended.
func (s *Service) SignOut(ctx context.Context, cookie string) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		sess, err := w.Session(inventory.HashSecret(cookie))
		if err != nil {
			if inventory.KindOf(err) == inventory.NotFound {
				err = nil
			}
			return err
		}
		p, err := w.Person(sess.Person)
		if err != nil {
			return err
		}
		if err := w.EndSession(sess.Hash); err != nil {
			return err
		}
		return w.AddHistory([]inventory.HistoryEntry{{RecordedAt: s.now(), By: p.Name, From: sess.Device,
			Kind: inventory.HistorySignedOut, Person: p.Name}})
	})
}

// SessionView is a session as it is shown to people.
type SessionView struct {
	Ref       string
	From      string // the terminal, or the browser in short
	CreatedAt inventory.Instant
	SeenAt    inventory.Instant // exact to ten minutes
	Here      bool              // the one that asks
}

// Sessions lists the sessions of a person that have not ended, the one last seen first: one's own, or anybody's for
// who keeps people. Refuses: Forbidden without keep_people for another's; NotFound.
func (s *Service) Sessions(ctx context.Context, by inventory.Actor, name string) ([]SessionView, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]SessionView, error) {
		p, err := personFor(r, by, name)
		if err != nil {
			return nil, err
		}
		all, err := r.Sessions(p.ID)
		if err != nil {
			return nil, err
		}
		var out []SessionView
		for _, x := range all {
			if sessionEnded(x, s.now()) {
				continue
			}
			v := SessionView{Ref: x.Ref(), From: x.Device, CreatedAt: x.CreatedAt, SeenAt: x.SeenAt, Here: x.Ref() == by.Session}
			if x.Terminal != 0 {
				t, err := r.Terminal(x.Terminal)
				if err != nil {
					return nil, err
				}
				v.From = t.Name
			}
			out = append(out, v)
		}
		return out, nil
	})
}

// personFor returns a person for their own use, or for who keeps people.
func personFor(r inventory.Reader, by inventory.Actor, name string) (inventory.Person, error) {
	act := inventory.ActKeepPeople
	if !by.Program && name == by.Name {
		act = inventory.ActAccount
	}
	if err := by.Must(act, ""); err != nil {
		return inventory.Person{}, err
	}
	return r.PersonByName(name)
}

// AllSessions stands for the ref of every session of a person.
const AllSessions = "all"

// EndSessions ends one session of a person, by its ref, or AllSessions. Refuses: Forbidden without keep_people for
// another's; NotFound for person or session; Invalid for one's own where the actor has not just confirmed.
func (s *Service) EndSessions(ctx context.Context, by inventory.Actor, name, ref string) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		p, err := personFor(w, by, name)
		if err == nil && name == by.Name {
			err = by.MustConfirm(s.now())
		}
		if err != nil {
			return err
		}
		if ref == AllSessions {
			if err := w.EndSessions(p.ID, 0); err != nil {
				return err
			}
			return w.AddHistory([]inventory.HistoryEntry{s.AboutPerson(by, inventory.HistorySignedOutAll, p, "")})
		}
		all, err := w.Sessions(p.ID)
		for _, x := range all {
			if x.Ref() == ref {
				if err := w.EndSession(x.Hash); err != nil {
					return err
				}
				return w.AddHistory([]inventory.HistoryEntry{s.AboutPerson(by, inventory.HistorySignedOut, p, "")})
			}
		}
		return cmp.Or(err, inventory.Refuse(inventory.NotFound, "not found"))
	})
}
