package inventory

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"
)

// Limits of signing in.
const (
	FreeTries    = 5                // wrong secrets before the first wait
	LockStep     = time.Minute      // the wait after that; it doubles with each further wrong one
	LongestLock  = 30 * time.Minute // and stops growing here
	SessionIdle  = 12 * time.Hour   // a session ends after so long without use
	SessionLimit = 7 * 24 * time.Hour
	MinPIN       = 4
	MinPassword  = 12
)

// Secrets hashes and compares secrets; the program brings argon2id, tests may
// bring something quick.
type Secrets interface {
	Hash(secret string) (string, error)
	Match(hash, secret string) bool
}

// CreatePerson makes a person who can sign in: crew with a PIN, the others
// with a password.
func (s *Service) CreatePerson(ctx context.Context, by Actor, in Person, secret string, h Secrets) (Person, error) {
	return write(ctx, s, func(w Writer) (Person, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return in, err
		}
		in.Name = oneLine(in.Name)
		if err := checkPerson(w, in, secret); err != nil {
			return in, err
		}
		if err := nameFree(w, in.Name); err != nil {
			return in, err
		}
		hash, err := h.Hash(secret)
		if err != nil {
			return in, err
		}
		in.SecretHash, in.Tries, in.LockedTill, in.Disabled = hash, 0, 0, false
		return w.AddPerson(in)
	})
}

func checkPerson(r Reader, in Person, secret string) error {
	return checkWho(r, in, &secret)
}

// checkWho judges a person, and their secret where they are to have one.
func checkWho(r Reader, in Person, secret *string) error {
	var ps problems
	checkText(&ps, "name", in.Name, true, 60)
	checkRole(&ps, in.Role)
	ps.when(in.Role == Crew && len(in.Sites) == 0, "sites", "name the sites that the person belongs to")
	if secret != nil {
		checkSecret(&ps, in.Role, *secret)
	}
	if err := knownSites(r, &ps, in.Sites); err != nil {
		return err
	}
	return ps.err()
}

func checkSecret(ps *problems, role Role, secret string) {
	if role == Crew {
		ps.when(len(secret) < MinPIN || len(secret) > 12 || strings.Trim(secret, "0123456789") != "", "secret", "give a PIN of %d to 12 digits", MinPIN)
		return
	}
	ps.when(len([]rune(secret)) < MinPassword || len(secret) > 200, "secret", "give a password of at least %d characters", MinPassword)
}

// nameFree refuses a name that a person or program has, or had: the ledger
// keeps names, and one name stays one of them.
func nameFree(r Reader, name string) error {
	taken := Errorf(Conflict, "a person or program has that name already; a name differs by more than upper and lower case")
	if _, err := r.PersonByName(name); err == nil || KindOf(err) != NotFound {
		return cmp.Or(err, taken)
	}
	tokens, err := r.Tokens()
	if err == nil && slices.ContainsFunc(tokens, func(t Token) bool { return strings.EqualFold(oneLine(t.Name), name) }) {
		return taken
	}
	return err
}

func checkRole(ps *problems, role Role) {
	for _, r := range Roles {
		if r == role {
			return
		}
	}
	ps.add("role", "choose crew, quartermaster, manager or administrator")
}

func knownSites(r Reader, ps *problems, codes []string) error {
	for _, code := range codes {
		_, err := r.Site(code)
		if KindOf(err) == NotFound {
			ps.add("sites", "no such site")
		} else if err != nil {
			return err
		}
	}
	return nil
}

// People lists everybody.
func (s *Service) People(ctx context.Context, by Actor) ([]Person, error) {
	return read(ctx, s, func(r Reader) ([]Person, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return nil, err
		}
		return r.People()
	})
}

// DisablePerson ends a person's access; what they did stays.
func (s *Service) DisablePerson(ctx context.Context, by Actor, name string) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return err
		}
		p, err := w.PersonByName(name)
		if err != nil {
			return err
		}
		if p, err = w.LockPerson(p.ID); err != nil {
			return err
		}
		p.Disabled = true
		return w.UpdatePerson(p)
	})
}

// SignIn proves who one is by name and secret and returns the secret of a new
// session. Too many wrong ones make the name wait, longer each time. It does
// not say which of the two was wrong. The secret is compared outside any unit
// of work, since that is slow on purpose.
func (s *Service) SignIn(ctx context.Context, name, secret, device string, h Secrets) (cookie string, err error) {
	now := s.Now()
	seen, err := read(ctx, s, func(r Reader) (Person, error) { return r.PersonByName(oneLine(name)) })
	switch {
	case err != nil && KindOf(err) == NotFound:
		h.Match("", secret) // take as long as for a name that exists
		return "", errWrongSecret()
	case err != nil:
		return "", err
	case now < seen.LockedTill:
		return "", errLocked(seen.LockedTill)
	}
	right := h.Match(seen.SecretHash, secret)
	sess := Session{Person: seen.ID, Device: device, CreatedAt: now, SeenAt: now, EndsAt: now.Add(SessionLimit)}
	cookie = rand.Text() + rand.Text()
	sess.Hash = hashSecret(cookie)
	var refused error // kept apart, since the count of tries must be written
	err = s.Store.Write(ctx, func(_ context.Context, w Writer) (err error) {
		refused, err = admitPerson(w, seen, right, sess)
		return err
	})
	if err == nil {
		err = refused
	}
	if err != nil {
		return "", err
	}
	return cookie, nil
}

// admitPerson counts a try to sign in, and keeps the session where it was
// right, or says why not. seen is the person when the secret was compared.
func admitPerson(w Writer, seen Person, right bool, sess Session) (refused, err error) {
	p, err := w.LockPerson(seen.ID)
	switch {
	case err != nil:
		return nil, err
	case sess.CreatedAt < p.LockedTill: // others tried in the meantime
		return errLocked(p.LockedTill), nil
	case p.SecretHash != seen.SecretHash:
		return Errorf(SignedOut, "the PIN or password was changed just now; try again"), nil
	case !right || p.Disabled:
		return errWrongSecret(), w.SetTries(p.ID, p.Tries+1, lockAfter(p.Tries+1, sess.CreatedAt))
	}
	if err := w.SetTries(p.ID, 0, 0); err != nil {
		return nil, err
	}
	return nil, w.AddSession(sess)
}

func errWrongSecret() error {
	return Errorf(SignedOut, "name and PIN or password do not belong together")
}

func errLocked(till Instant) error {
	return Errorf(TooMany, "too many wrong tries; wait until %s", till)
}

// lockAfter returns until when a name waits after so many wrong tries in a row.
func lockAfter(tries int, now Instant) Instant {
	if tries < FreeTries {
		return 0
	}
	wait := LockStep << min(tries-FreeTries, 10)
	return now.Add(min(wait, LongestLock))
}

func hashSecret(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// SessionActor returns who is behind a session's secret, or a SignedOut error.
func (s *Service) SessionActor(ctx context.Context, cookie string) (Actor, error) {
	now := s.Now()
	signedOut := Errorf(SignedOut, "sign in first")
	hash := hashSecret(cookie)
	var touch bool
	actor, err := read(ctx, s, func(r Reader) (Actor, error) {
		sess, err := r.Session(hash)
		if err != nil {
			return Actor{}, err
		}
		if now > sess.EndsAt || now > sess.SeenAt.Add(SessionIdle) {
			return Actor{}, signedOut
		}
		touch = now > sess.SeenAt.Add(10*time.Minute)
		p, err := r.Person(sess.Person)
		if err != nil || p.Disabled {
			return Actor{}, signedOut
		}
		return Actor{Name: p.Name, Role: p.Role, Sites: p.Sites}, nil
	})
	if err != nil && KindOf(err) == NotFound {
		return Actor{}, signedOut
	}
	if err == nil && touch {
		err = s.Store.Write(ctx, func(_ context.Context, w Writer) error { return w.TouchSession(hash, now) })
	}
	return actor, err
}

// SignOut ends a session.
func (s *Service) SignOut(ctx context.Context, cookie string) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error { return w.EndSession(hashSecret(cookie)) })
}

// CreateToken makes a token for a program and returns its text, which is shown
// once and not kept.
func (s *Service) CreateToken(ctx context.Context, by Actor, in Token) (text string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return "", err
		}
		in.Name = oneLine(in.Name)
		var ps problems
		checkText(&ps, "name", in.Name, true, 60)
		checkRole(&ps, in.Role)
		if err := knownSites(w, &ps, in.Sites); err != nil {
			return "", err
		}
		ps.when(in.Role == Crew && len(in.Sites) == 0, "sites", "name the sites that a crew token belongs to")
		if err := ps.err(); err != nil {
			return "", err
		}
		if err := nameFree(w, in.Name); err != nil {
			return "", err
		}
		text := "sk_" + rand.Text() + rand.Text()
		in.Hash, in.CreatedAt = hashSecret(text), s.Now()
		_, err := w.AddToken(in)
		return text, err
	})
}

// TokenActor returns who is behind a token, or a SignedOut error.
func (s *Service) TokenActor(ctx context.Context, text string) (Actor, error) {
	today := s.Now().In(utc)
	var stale int64
	actor, err := read(ctx, s, func(r Reader) (Actor, error) {
		t, err := r.TokenByHash(hashSecret(text))
		if err != nil && KindOf(err) == NotFound || err == nil && t.RevokedAt != 0 {
			return Actor{}, Errorf(SignedOut, "this token is not known, or it was revoked")
		}
		if t.LastUsed != today {
			stale = t.ID
		}
		return Actor{Name: t.Name, Role: t.Role, Sites: t.Sites, Program: true}, err
	})
	if err == nil && stale != 0 {
		err = s.Store.Write(ctx, func(_ context.Context, w Writer) error { return w.TouchToken(stale, today) })
	}
	return actor, err
}
