package inventory

import (
	"context"
	"slices"
	"time"
)

// Life of tokens.
const (
	TokenLife    = 365 * 24 * time.Hour     // where nobody says
	LongestToken = 5 * 365 * 24 * time.Hour // and at most
)

// CreateToken makes a token for a program and returns its text, which is shown
// once and not kept. EndsAt 0 gives it TokenLife.
func (s *Service) CreateToken(ctx context.Context, by Actor, in Token) (text string, err error) {
	return write(ctx, s, func(w Writer) (string, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return "", err
		}
		now := s.Now()
		if err := by.mustConfirm(now); err != nil {
			return "", err
		}
		in.Name = oneLine(in.Name)
		if in.EndsAt == 0 {
			in.EndsAt = now.Add(TokenLife)
		}
		if err := checkToken(w, in, now); err != nil {
			return "", err
		}
		if err := nameFree(w, in.Name); err != nil {
			return "", err
		}
		text := "sk_" + newSecret()
		in.Hash, in.CreatedAt, in.CreatedBy, in.RevokedAt, in.LastUsed = hashSecret(text), now, by.Name, 0, 0
		if _, err := w.AddToken(in); err != nil {
			return "", err
		}
		d := Deed{At: now, By: by.Name, From: by.From, Kind: DeedTokenAdded, Person: in.Name, Detail: standing(Person{Role: in.Role, Sites: in.Sites})}
		return text, w.AddDeeds([]Deed{d})
	})
}

func checkToken(r Reader, in Token, now Instant) error {
	var ps problems
	checkText(&ps, "name", in.Name, true, 60)
	checkRole(&ps, in.Role)
	ps.when(in.Role == Crew && len(in.Sites) == 0, "sites", "name the sites that a crew token belongs to")
	for _, a := range in.Scope {
		ps.when(!slices.Contains(Actions, a) || a == ActOpen || a == ActAccount || !May(in.Role, a), "scope", "name actions that the role may do")
	}
	ps.when(in.EndsAt <= now, "ends_at", "give a time that is still to come")
	ps.when(in.EndsAt > now.Add(LongestToken), "ends_at", "give a time within five years")
	if err := knownSites(r, &ps, in.Sites); err != nil {
		return err
	}
	return ps.err()
}

// Tokens lists all tokens, also those that were revoked or have ended.
func (s *Service) Tokens(ctx context.Context, by Actor) ([]Token, error) {
	return read(ctx, s, func(r Reader) ([]Token, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return nil, err
		}
		return r.Tokens()
	})
}

// RevokeToken ends a token for good, from this moment on.
func (s *Service) RevokeToken(ctx context.Context, by Actor, id int64) (Token, error) {
	return write(ctx, s, func(w Writer) (Token, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return Token{}, err
		}
		all, err := w.Tokens()
		i := slices.IndexFunc(all, func(t Token) bool { return t.ID == id })
		switch {
		case err != nil:
			return Token{}, err
		case i < 0:
			return Token{}, Errorf(NotFound, "no such token")
		case all[i].RevokedAt != 0:
			return all[i], Errorf(Conflict, "it is revoked already")
		}
		t := all[i]
		t.RevokedAt = s.Now()
		if err := w.UpdateToken(t); err != nil {
			return t, err
		}
		return t, w.AddDeeds([]Deed{{At: t.RevokedAt, By: by.Name, From: by.From, Kind: DeedTokenRevoked, Person: t.Name}})
	})
}

// Live tells whether the token lets its program in at an instant.
func (t Token) Live(now Instant) bool { return t.RevokedAt == 0 && (t.EndsAt == 0 || now < t.EndsAt) }

// TokenActor returns who is behind a token, or a SignedOut error, which is the
// same whether the token is unknown, revoked or past its end.
func (s *Service) TokenActor(ctx context.Context, text string) (Actor, error) {
	now := s.Now()
	today := now.In(utc)
	var stale int64
	actor, err := read(ctx, s, func(r Reader) (Actor, error) {
		t, err := r.TokenByHash(hashSecret(text))
		if err != nil && KindOf(err) == NotFound || err == nil && !t.Live(now) {
			return Actor{}, Errorf(SignedOut, "this token is not known, it was revoked, or it has ended")
		}
		if t.LastUsed != today {
			stale = t.ID
		}
		return Actor{Name: t.Name, Role: t.Role, Sites: t.Sites, Scope: t.Scope, Program: true, From: "API"}, err
	})
	if err == nil && stale != 0 {
		err = s.Store.Write(ctx, func(_ context.Context, w Writer) error { return w.TouchToken(stale, today) })
	}
	return actor, err
}
