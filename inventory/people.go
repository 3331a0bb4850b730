package inventory

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
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
		in.Name = strings.Join(strings.Fields(in.Name), " ")
		if err := checkPerson(w, in, secret); err != nil {
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
	var ps problems
	checkText(&ps, "name", in.Name, true, 60)
	checkRole(&ps, in.Role)
	if in.Role == Crew {
		ps.when(len(secret) < MinPIN || len(secret) > 12 || strings.Trim(secret, "0123456789") != "", "secret", "give a PIN of %d to 12 digits", MinPIN)
		ps.when(len(in.Sites) == 0, "sites", "name the sites that the person belongs to")
	} else {
		ps.when(len([]rune(secret)) < MinPassword || len(secret) > 200, "secret", "give a password of at least %d characters", MinPassword)
	}
	if err := knownSites(r, &ps, in.Sites); err != nil {
		return err
	}
	return ps.err()
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
		p.Disabled = true
		return w.UpdatePerson(p)
	})
}

// SignIn proves who one is by name and secret and returns the secret of a new
// session. Too many wrong ones make the name wait, longer each time. It does
// not say which of the two was wrong.
func (s *Service) SignIn(ctx context.Context, name, secret, device string, h Secrets) (cookie string, err error) {
	now := s.Now()
	wrong := Errorf(SignedOut, "name and PIN or password do not belong together")
	var refused error // kept apart, since the count of tries must be written
	err = s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		refused = nil
		p, err := w.PersonByName(strings.Join(strings.Fields(name), " "))
		if err != nil && KindOf(err) == NotFound {
			h.Match("", secret) // take as long as for a name that exists
			refused = wrong
			return nil
		}
		if err != nil {
			return err
		}
		if now < p.LockedTill {
			refused = Errorf(TooMany, "too many wrong tries; wait until %s", p.LockedTill)
			return nil
		}
		if !h.Match(p.SecretHash, secret) || p.Disabled {
			p.Tries++
			p.LockedTill = lockAfter(p.Tries, now)
			refused = wrong
			return w.UpdatePerson(p)
		}
		p.Tries, p.LockedTill = 0, 0
		if err := w.UpdatePerson(p); err != nil {
			return err
		}
		cookie = rand.Text() + rand.Text()
		return w.AddSession(Session{Hash: hashSecret(cookie), Person: p.ID, Device: device, CreatedAt: now, SeenAt: now, EndsAt: now.Add(SessionLimit)})
	})
	if err == nil {
		err = refused
	}
	if err != nil {
		return "", err
	}
	return cookie, nil
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
		text := "sk_" + rand.Text() + rand.Text()
		in.Hash, in.CreatedAt = hashSecret(text), s.Now()
		_, err := w.AddToken(in)
		return text, err
	})
}

// TokenActor returns who is behind a token, or a SignedOut error.
func (s *Service) TokenActor(ctx context.Context, text string) (Actor, error) {
	today := s.Now().In(utc)
	var stale Token
	actor, err := read(ctx, s, func(r Reader) (Actor, error) {
		t, err := r.TokenByHash(hashSecret(text))
		if err != nil && KindOf(err) == NotFound || err == nil && t.RevokedAt != 0 {
			return Actor{}, Errorf(SignedOut, "this token is not known, or it was revoked")
		}
		if t.LastUsed != today {
			stale = t
		}
		return Actor{Name: t.Name, Role: t.Role, Sites: t.Sites}, err
	})
	if err == nil && stale.ID != 0 {
		stale.LastUsed = today
		err = s.Store.Write(ctx, func(_ context.Context, w Writer) error { return w.UpdateToken(stale) })
	}
	return actor, err
}
