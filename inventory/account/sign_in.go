package account

import (
	"cmp"
	"context"
	"crypto/rand"
	"slices"
	"time"

	"stowkeeper/inventory"
)

// Limits of sessions.
const (
	SessionIdle  = 12 * time.Hour // a session ends after so long without use
	SessionLimit = 7 * 24 * time.Hour
)

// Secrets hashes and compares secrets; the program brings argon2id, tests may
// bring something quick. Matching an empty hash fails, and takes as long.
type Secrets interface {
	Hash(secret string) (string, error)
	Match(hash, secret string) bool
}

// Queue is what Secrets may also be: Full tells that so many wait to be compared that nobody should join them.
type Queue interface{ Full() bool }

// From is where somebody signs in from.
type From struct {
	Terminal string // secret of the cookie of an enrolled terminal; empty for none
	Session  string // secret of the session that the new one takes the place of; empty for none
	Address  string // network address
	Browser  string // how the browser names itself, in short
}

// attempt is a try to sign in, counted before the secret is looked at, so that tries made at the same time all count.
type attempt struct {
	person   inventory.Person
	terminal inventory.Terminal
	counters []counter
	before   []inventory.AttemptCounter // what was counted before this try
	hash     string                     // of the secret; empty where none can be right
}

// SignIn proves who one is by name and secret and returns the secret of a new session: by PIN on an enrolled
// terminal only, by password anywhere. It does the same work for a name that does not exist. The secret is compared
// outside any unit of work, since that is slow on purpose. Refuses: SignedOut, without saying what was wrong;
// TooMany after wrong tries, longer each time, and to strangers while too many sign in at once. Locks what it counts,
// then the person.
func (s *Service) SignIn(ctx context.Context, name, secret string, from From, h Secrets) (cookie string, err error) {
	now := s.now()
	q, bounded := h.(Queue)
	a, err := s.begin(ctx, name, from, now, bounded && q.Full())
	if err != nil {
		return "", err
	}
	if !h.Match(a.hash, secret) {
		return "", errWrongSecret()
	}
	cookie = newSecret()
	sess := inventory.Session{Hash: inventory.HashSecret(cookie), Person: a.person.ID, Device: from.Browser,
		Terminal: a.terminal.ID, CreatedAt: now, SeenAt: now, EndsAt: now.Add(SessionLimit)}
	err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return admitPerson(w, a, sess, from) })
	if err != nil {
		return "", err
	}
	return cookie, nil
}

// begin counts a try, or refuses it where it must wait. full turns strangers away.
func (s *Service) begin(ctx context.Context, name string, from From, now inventory.Instant, full bool) (a attempt,
	err error) {
	var refused error // kept apart, since the count must be written
	err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		a = attempt{}
		var err error
		if a.terminal, err = liveTerminal(w, from.Terminal); err != nil {
			return err
		}
		a.person, err = w.PersonByName(inventory.OneLine(name))
		if err != nil && inventory.KindOf(err) != inventory.NotFound {
			return err
		}
		if err == nil {
			name = a.person.Name // one count, however it is written
		}
		known, err := w.AttemptsOf(knownSubject(name, from.Address))
		if err != nil {
			return err
		}
		if full && known.LastAt == 0 && a.terminal.ID == 0 {
			refused = inventory.Refuse(inventory.TooMany, "too many sign-ins at once: try again in a minute")
			return nil
		}
		a.counters = countersOf(name, a.terminal.ID, from.Address, known.LastAt != 0)
		a.hash = a.expected()
		if err := w.ForgetAttempts(now.Add(-keepAttempts)); err != nil {
			return err
		}
		refused, err = a.count(w, now)
		return err
	})
	if err == nil {
		err = refused
	}
	return a, err
}

// expected is the hash that the secret must match; empty where no secret lets the person in from there.
func (a attempt) expected() string {
	p, t := a.person, a.terminal
	switch {
	case p.ID == 0 || p.Disabled:
		return ""
	case p.Role.UsesPIN() && (t.ID == 0 || t.Station != "" && !slices.Contains(p.Stations, t.Station)):
		return ""
	}
	return p.SecretHash
}

// count counts the try as a wrong one until it proves right.
func (a *attempt) count(w inventory.Writer, now inventory.Instant) (refused, err error) {
	tries, err := w.LockAttempts(a.subjects())
	if err != nil {
		return nil, err
	}
	if till := lockedTill(a.counters, tries, now); till != 0 {
		return errLocked(till), nil
	}
	a.before = tries
	for i, c := range a.counters {
		t := c.rule.next(tries[i], now)
		if err := w.SetAttempts(t); err != nil {
			return nil, err
		}
		if i == 0 && t.LockedTill != 0 && a.person.ID != 0 {
			d := inventory.HistoryEntry{RecordedAt: now, From: a.terminal.Name, Kind: inventory.HistoryLocked,
				Person: a.person.Name}
			if err := w.AddHistory([]inventory.HistoryEntry{d}); err != nil {
				return nil, err
			}
		}
	}
	return nil, nil
}

func (a attempt) subjects() []string {
	var out []string
	for _, c := range a.counters {
		out = append(out, c.subject)
	}
	return out
}

// admitPerson keeps the session of who proved themselves, unless what was
// compared has changed meanwhile, and takes back the count.
func admitPerson(w inventory.Writer, a attempt, sess inventory.Session, from From) error {
	p, err := w.LockPerson(a.person.ID)
	if err != nil {
		return err
	}
	if p.SecretHash != a.person.SecretHash || p.Role != a.person.Role {
		return inventory.Refuse(inventory.SignedOut, "PIN or password just changed: try again")
	}
	if p.Disabled {
		return errWrongSecret()
	}
	if err := a.takeBack(w); err != nil {
		return err
	}
	if a.terminal.ID == 0 {
		if err := remember(w, p.Name, from.Address, sess.CreatedAt); err != nil {
			return err
		}
	} else {
		t, err := w.Terminal(a.terminal.ID)
		if err != nil || !t.Live() {
			return cmp.Or(err, errWrongSecret())
		}
		t.LastUsed = sess.CreatedAt.InUTC()
		if err := w.UpdateTerminal(t); err != nil {
			return err
		}
	}
	if from.Session != "" { // what a browser held before is worth nothing from here on
		if err := w.EndSession(inventory.HashSecret(from.Session)); err != nil {
			return err
		}
	}
	if err := w.AddSession(sess); err != nil {
		return err
	}
	return w.AddHistory([]inventory.HistoryEntry{{RecordedAt: sess.CreatedAt, By: p.Name, From: cmp.Or(a.terminal.Name,
		sess.Device), Kind: inventory.HistorySignedIn, Person: p.Name}})
}

// remember keeps for a while that a person signed in from an address.
func remember(w inventory.Writer, name, address string, now inventory.Instant) error {
	subject := knownSubject(name, address)
	if _, err := w.LockAttempts([]string{subject}); err != nil {
		return err
	}
	return w.SetAttempts(inventory.AttemptCounter{Subject: subject, LastAt: now})
}

// takeBack undoes the count of a try that proved right: the name begins anew,
// the others lose this one try, so that a right one does not hide wrong ones.
func (a attempt) takeBack(w inventory.Writer) error {
	tries, err := w.LockAttempts(a.subjects())
	if err != nil {
		return err
	}
	for i, t := range tries {
		switch last := t.Attempts == a.before[i].Attempts+1; { // nobody else tried meanwhile
		case i == 0:
			t.Attempts, t.LockedTill = 0, 0
		case last:
			t.Attempts, t.LockedTill = max(t.Attempts-1, 0), a.before[i].LockedTill
		default:
			t.Attempts = max(t.Attempts-1, 0)
		}
		if err := w.SetAttempts(t); err != nil {
			return err
		}
	}
	return nil
}

// liveTerminal returns the terminal behind a cookie's secret, or none.
func liveTerminal(r inventory.Reader, secret string) (inventory.Terminal, error) {
	if secret == "" {
		return inventory.Terminal{}, nil
	}
	t, err := r.TerminalByHash(inventory.HashSecret(secret))
	if err != nil && inventory.KindOf(err) != inventory.NotFound {
		return inventory.Terminal{}, err
	}
	if err != nil || !t.Live() {
		return inventory.Terminal{}, nil
	}
	return t, nil
}

func errWrongSecret() error {
	return inventory.Refuse(inventory.SignedOut, "wrong name, PIN or password")
}

func errLocked(till inventory.Instant) error {
	return inventory.Refuse(inventory.TooMany, "too many wrong tries: wait until {1}", till)
}

// newSecret makes the secret of a session, token, terminal or link: 260 bits.
func newSecret() string { return rand.Text() + rand.Text() }
