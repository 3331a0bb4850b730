package account

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"stowkeeper/inventory"
)

// Life of tokens.
const (
	TokenLife    = 365 * 24 * time.Hour     // where nobody says
	LongestToken = 5 * 365 * 24 * time.Hour // and at most
)

// CreateToken makes a token for a program and returns its text, which is shown once and not kept. Without stations,
// scope or end it gets those of the token that makes it, and else all that its role may do, for TokenLife. Refuses:
// Forbidden without keep_people, and for more than the actor may do; Invalid by field, and where the actor has not
// just confirmed; Conflict where a person or program has, or had, that name.
func (s *Service) CreateToken(ctx context.Context, by inventory.Actor, in inventory.Token) (text string, err error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (string, error) {
		return s.addToken(w, by, in, "sk_")
	})
}

func (s *Service) addToken(w inventory.Writer, by inventory.Actor, in inventory.Token, begins string) (string, error) {
	now := s.now()
	if err := by.MustConfirm(now); err != nil {
		return "", err
	}
	in.Name = inventory.OneLine(in.Name)
	g := by.Inherited(inventory.Grant{Role: in.Role, Stations: in.Stations, Scope: in.Scope, EndsAt: in.EndsAt})
	in.Stations, in.Scope, in.EndsAt = g.Stations, g.Scope, cmp.Or(g.EndsAt, now.Add(TokenLife))
	if err := cmp.Or(checkToken(w, in, now), by.MustGrant(g)); err != nil {
		return "", err
	}
	if err := NameFree(w, in.Name); err != nil {
		return "", err
	}
	text := begins + newSecret()
	in.Hash, in.CreatedAt, in.CreatedBy, in.RevokedAt, in.LastUsed = inventory.HashSecret(text), now, by.Name, 0, 0
	if _, err := w.AddToken(in); err != nil {
		return "", err
	}
	d := inventory.HistoryEntry{RecordedAt: now, By: by.Name, From: by.From, Kind: inventory.HistoryTokenAdded,
		Person: in.Name, Detail: Standing(inventory.Person{Role: in.Role, Stations: in.Stations})}
	return text, w.AddHistory([]inventory.HistoryEntry{d})
}

func checkToken(r inventory.Reader, in inventory.Token, now inventory.Instant) error {
	var ps inventory.Problems
	inventory.CheckName(&ps, "name", in.Name, 60)
	checkRole(&ps, in.Role)
	ps.When(in.Role == inventory.Crew && len(in.Stations) == 0, "stations", "choose at least one station")
	for _, a := range in.Scope {
		ps.When(!slices.Contains(inventory.Actions, a) || a == inventory.ActOpen || a == inventory.ActAccount ||
			!inventory.May(in.Role, a), "scope", "not allowed for this role")
	}
	ps.When(in.EndsAt <= now, "ends_at", "enter a future time")
	ps.When(in.EndsAt > now.Add(LongestToken), "ends_at", "enter a time within five years")
	if err := knownStations(r, &ps, in.Stations, nil); err != nil {
		return err
	}
	return ps.Err()
}

// Tokens lists all tokens by id, also those that were revoked or have ended. Refuses: Forbidden without keep_people.
func (s *Service) Tokens(ctx context.Context, by inventory.Actor) ([]inventory.Token, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople, inventory.Reader.Tokens)
}

// TokenNamed returns the token of a program, its name in any case. Refuses: Forbidden without keep_people; NotFound.
func (s *Service) TokenNamed(ctx context.Context, by inventory.Actor, name string) (inventory.Token, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople, func(r inventory.Reader) (inventory.Token, error) {
		return tokenNamed(r, inventory.OneLine(name))
	})
}

func tokenNamed(r inventory.Reader, name string) (inventory.Token, error) {
	all, err := r.Tokens()
	for _, t := range all {
		if strings.EqualFold(inventory.OneLine(t.Name), name) {
			return t, err
		}
	}
	return inventory.Token{}, cmp.Or(err, inventory.Refuse(inventory.NotFound, "not found"))
}

// RevokeToken ends a token for good, from this moment on. Refuses: Forbidden without keep_people; NotFound; Conflict
// where it was revoked before.
func (s *Service) RevokeToken(ctx context.Context, by inventory.Actor, id int64) (inventory.Token, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (inventory.Token, error) {
		return s.revoke(w, by, func(t inventory.Token) bool { return t.ID == id })
	})
}

// revoke ends the one token that is meant.
func (s *Service) revoke(w inventory.Writer, by inventory.Actor, meant func(inventory.Token) bool) (inventory.Token,
	error) {
	all, err := w.Tokens()
	i := slices.IndexFunc(all, meant)
	switch {
	case err != nil:
		return inventory.Token{}, err
	case i < 0:
		return inventory.Token{}, inventory.Refuse(inventory.NotFound, "not found")
	case all[i].RevokedAt != 0:
		return all[i], inventory.Refuse(inventory.Conflict, "revoked already")
	}
	t := all[i]
	t.RevokedAt = s.now()
	if err := w.UpdateToken(t); err != nil {
		return t, err
	}
	return t, w.AddHistory([]inventory.HistoryEntry{{RecordedAt: t.RevokedAt, By: by.Name, From: by.From,
		Kind: inventory.HistoryTokenRevoked, Person: t.Name}})
}

// TokenActor returns who is behind a token. Refuses: SignedOut, the same whether the token is unknown, revoked, past
// its end, or the key of a calendar's address. The first use on a day writes that day.
func (s *Service) TokenActor(ctx context.Context, text string) (inventory.Actor, error) {
	if strings.HasPrefix(text, calendarKey) {
		text = ""
	}
	return s.behind(ctx, text)
}

func (s *Service) behind(ctx context.Context, text string) (inventory.Actor, error) {
	now := s.now()
	today := now.InUTC()
	var stale int64
	actor, err := inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Actor, error) {
		t, err := r.TokenByHash(inventory.HashSecret(text))
		if err != nil && inventory.KindOf(err) == inventory.NotFound || err == nil && !t.Live(now) {
			return inventory.Actor{}, inventory.Refuse(inventory.SignedOut, "token unknown, revoked or expired")
		}
		if t.LastUsed != today {
			stale = t.ID
		}
		return inventory.Actor{Name: t.Name, Role: t.Role, Stations: t.Stations, Scope: t.Scope, EndsAt: t.EndsAt,
			Program: true, From: "API"}, err
	})
	if err == nil && stale != 0 {
		err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return w.TouchToken(stale, today) })
	}
	return actor, err
}
