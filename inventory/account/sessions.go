package account

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
)

// SessionActor returns who is behind a session's secret. Refuses: SignedOut where it is not known, has ended, or its
// person or terminal may no longer sign in. Once in ten minutes, or a twentieth of how long a session may lie unused
// there, it writes when this one was last seen.
func (s *Service) SessionActor(ctx context.Context, cookie string) (inventory.Actor, error) {
	now := s.now()
	var o opened
	actor, err := inventory.Read(ctx, s.store, func(r inventory.Reader) (a inventory.Actor, err error) {
		if o, err = openSession(r, cookie, now); err != nil {
			return a, err
		}
		a = inventory.Actor{Name: o.person.Name, Role: o.person.Role, Stations: o.person.Stations, From: o.Device,
			Session: o.Ref()}
		if o.Terminal != 0 {
			a.From, a.LockMinutes = o.on.Name, int(o.idle.Minutes())
		}
		return a, nil
	})
	if err == nil && now > o.SeenAt.Add(min(10*time.Minute, o.idle/20)) {
		err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return w.TouchSession(o.Hash, now) })
		if inventory.KindOf(err) == inventory.NotFound { // ended in between
			err = errSignedOut()
		}
	}
	if err != nil {
		return inventory.Actor{}, err
	}
	return actor, nil
}

// sessionEnded tells whether nobody may go on with a session, which may lie unused for as long as idle says; also since
// the clock was set back.
func sessionEnded(x inventory.Session, idle time.Duration, now inventory.Instant) bool {
	return now > x.EndsAt || now > x.SeenAt.Add(idle) || inventory.ClockJumped(x.SeenAt, now)
}

// IdleLimit is how long a session may lie unused on a terminal: as the terminal's station says, and on one of all
// stations as the strictest of the person's does.
func IdleLimit(t inventory.Terminal, p inventory.Person, stations []inventory.Station) time.Duration {
	idle := SessionIdle
	for _, x := range stations {
		own := t.Station == "" && (len(p.Stations) == 0 || slices.Contains(p.Stations, x.Code))
		if x.LockMinutes > 0 && (own || t.Station == x.Code) {
			idle = min(idle, time.Duration(x.LockMinutes)*time.Minute)
		}
	}
	return idle
}

// opened is a session that may go on, with whose it is, the terminal that it is on, if any, and how long it may lie
// unused.
type opened struct {
	inventory.Session
	person inventory.Person
	on     inventory.Terminal
	idle   time.Duration
}

// look reads what decides how long a session may lie unused.
func (o *opened) look(r inventory.Reader) (err error) {
	var stations []inventory.Station
	if o.Terminal != 0 {
		o.on, err = r.Terminal(o.Terminal)
	}
	if o.Terminal != 0 && err == nil && o.person.Role.UsesPIN() {
		stations, err = r.Stations()
	}
	o.judge(stations)
	return err
}

// judge says how long the session may lie unused. Only crews pass a phone on.
func (o *opened) judge(stations []inventory.Station) {
	o.idle = SessionIdle
	if o.on.ID != 0 && o.person.Role.UsesPIN() {
		o.idle = IdleLimit(o.on, o.person, stations)
	}
}

func errSignedOut() error { return inventory.Refuse(inventory.SignedOut, "sign in first") }

// openSession returns the session behind a secret and whose it is, unless it has ended or they may no longer sign in.
func openSession(r inventory.Reader, cookie string, now inventory.Instant) (o opened, err error) {
	o.Session, err = r.Session(inventory.HashSecret(cookie))
	if err == nil {
		o.person, err = r.Person(o.Person)
	}
	if err == nil {
		err = o.look(r)
	}
	switch {
	case inventory.KindOf(err) == inventory.NotFound,
		err == nil && (o.person.Disabled || o.Terminal != 0 && !o.on.Live() || sessionEnded(o.Session, o.idle, now)):
		return o, errSignedOut()
	}
	return o, err
}

// ownSession returns the session behind the actor's own secret, and the person.
func (s *Service) ownSession(ctx context.Context, by inventory.Actor, cookie string) (sess inventory.Session,
	p inventory.Person, err error) {
	err = s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		o, err := openSession(r, cookie, s.now())
		if sess, p = o.Session, o.person; err == nil && p.Name != by.Name {
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
	Person    inventory.Person
	From      string // the terminal, or the browser in short
	CreatedAt inventory.Instant
	SeenAt    inventory.Instant // exact to ten minutes
	Here      bool              // the one that asks
}

// Sessions lists the sessions of a person that have not ended, the one last seen first: one's own, or anybody's for
// who keeps people, and everybody's for no name. Refuses: Forbidden without keep_people for another's; NotFound.
func (s *Service) Sessions(ctx context.Context, by inventory.Actor, name string) ([]SessionView, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]SessionView, error) {
		people := map[int64]inventory.Person{}
		var p inventory.Person
		var err error
		if name != "" {
			p, err = personFor(r, by, name)
			people[p.ID] = p
		} else if err = by.Must(inventory.ActKeepPeople, ""); err == nil {
			var all []inventory.Person
			all, err = r.People()
			for _, p := range all {
				people[p.ID] = p
			}
		}
		if err != nil {
			return nil, err
		}
		all, err1 := r.Sessions(p.ID)
		terminals, err2 := r.Terminals()
		stations, err3 := r.Stations()
		if err := cmp.Or(err1, err2, err3); err != nil {
			return nil, err
		}
		var out []SessionView
		for _, x := range all {
			o := opened{Session: x, person: people[x.Person]}
			if i := slices.IndexFunc(terminals, func(t inventory.Terminal) bool { return t.ID == x.Terminal }); i >= 0 {
				o.on = terminals[i]
			}
			o.judge(stations)
			if sessionEnded(x, o.idle, s.now()) {
				continue
			}
			out = append(out, SessionView{Ref: x.Ref(), Person: o.person, From: cmp.Or(o.on.Name, x.Device),
				CreatedAt: x.CreatedAt, SeenAt: x.SeenAt, Here: x.Ref() == by.Session})
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
