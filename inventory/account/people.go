package account

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"go.mau.fi/util/confusable"

	"stowkeeper/inventory"
)

// CreatePerson makes a person who can sign in: crew with a PIN, the others with a password. Refuses: Forbidden
// without keep_people, and for more than the actor may do; Invalid by field, and where the actor has not just
// confirmed; Conflict where a person or program has, or had, that name.
func (s *Service) CreatePerson(ctx context.Context, by inventory.Actor, in inventory.Person, secret string,
	h Secrets) (inventory.Person, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (inventory.Person,
		error) {
		if err := cmp.Or(by.MustConfirm(s.now()), by.MustGrant(in.Grants())); err != nil {
			return in, err
		}
		return s.addPerson(w, by, in, secret, h)
	})
}

func (s *Service) addPerson(w inventory.Writer, by inventory.Actor, in inventory.Person, secret string,
	h Secrets) (inventory.Person, error) {
	in.Name, in.Stations = inventory.OneLine(in.Name), stationsOf(in.Role, in.Stations)
	var ps inventory.Problems
	inventory.CheckName(&ps, "name", in.Name, 60)
	checkSecret(&ps, "secret", in.Role, in.Name, secret)
	if err := checkPerson(w, &ps, in, nil); err != nil {
		return in, err
	}
	if err := NameFree(w, in.Name); err != nil {
		return in, err
	}
	hash, err := h.Hash(secret)
	if err != nil {
		return in, err
	}
	in.SecretHash, in.Attempts, in.LockedTill, in.Disabled = hash, 0, 0, false
	if in, err = w.AddPerson(in); err != nil {
		return in, err
	}
	return in, w.AddHistory([]inventory.HistoryEntry{s.AboutPerson(by, inventory.HistoryPersonAdded, in, Standing(in))})
}

// AboutPerson makes a history entry about a person, at this moment. It never refuses.
func (s *Service) AboutPerson(by inventory.Actor, kind inventory.HistoryKind, p inventory.Person,
	detail string) inventory.HistoryEntry {
	return inventory.HistoryEntry{RecordedAt: s.now(), By: by.Name, From: by.From, Kind: kind, Person: p.Name,
		Detail: detail}
}

// Standing says what a person may do and where, for the history.
func Standing(p inventory.Person) string {
	text := string(p.Role)
	if len(p.Stations) > 0 {
		text += ", " + strings.Join(p.Stations, " ")
	}
	if p.Disabled {
		text += ", disabled"
	}
	return text
}

// stationsOf leaves an administrator's stations out: they belong to every one.
func stationsOf(role inventory.Role, stations []string) []string {
	if role == inventory.Administrator {
		return nil
	}
	return stations
}

// CheckWho judges a person who gets no secret yet. former are closed stations that they may belong to all the same.
// Refuses: Invalid by field.
func CheckWho(r inventory.Reader, in inventory.Person, former []string) error {
	var ps inventory.Problems
	inventory.CheckName(&ps, "name", in.Name, 60)
	return checkPerson(r, &ps, in, former)
}

// checkPerson adds what is wrong with role and stations, and returns all of it.
func checkPerson(r inventory.Reader, ps *inventory.Problems, in inventory.Person, former []string) error {
	checkRole(ps, in.Role)
	ps.When(in.Role == inventory.Crew && len(in.Stations) == 0, "stations", "choose at least one station")
	if err := knownStations(r, ps, in.Stations, former); err != nil {
		return err
	}
	return ps.Err()
}

// NameFree refuses a name that a person or program has, or had, or that looks like one of theirs, as with a letter of
// another script: the ledger keeps names, and one name stays one of them (Unicode UTS 39, section 4). Refuses:
// Conflict.
func NameFree(r inventory.Reader, name string) error {
	people, err := r.People()
	tokens, err2 := r.Tokens()
	if err = cmp.Or(err, err2); err != nil {
		return err
	}
	var taken []string
	for _, p := range people {
		taken = append(taken, p.Name)
	}
	for _, t := range tokens {
		taken = append(taken, t.Name)
	}
	for _, other := range taken {
		switch {
		case SameName(other, name):
			return inventory.Refuse(inventory.Conflict, "name already used")
		case looksLike(other, name):
			return inventory.Refuse(inventory.Conflict, "looks like {1}: choose another name", other)
		}
	}
	return nil
}

// looksLike compares what is left of two names when letters that look alike are one, as written and in lower case.
func looksLike(a, b string) bool {
	return confusable.Confusable(a, b) || confusable.Confusable(strings.ToLower(a), strings.ToLower(b))
}

func checkRole(ps *inventory.Problems, role inventory.Role) {
	ps.When(!slices.Contains(inventory.Roles, role), "role", "choose one of {1}",
		"crew, quartermaster, manager, administrator")
}

// knownStations refuses stations that are not there, and closed ones that are no former ones.
func knownStations(r inventory.Reader, ps *inventory.Problems, codes, former []string) error {
	for _, code := range codes {
		station, err := r.Station(code)
		if inventory.KindOf(err) == inventory.NotFound {
			ps.Add("stations", "not found")
		} else if err != nil {
			return err
		}
		ps.When(station.Closed() && !slices.Contains(former, code), "stations", "station {1} is closed: choose another", code)
	}
	return nil
}

// People lists everybody by id, also those who are disabled. Refuses: Forbidden without keep_people.
func (s *Service) People(ctx context.Context, by inventory.Actor) ([]inventory.Person, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople, inventory.Reader.People)
}

// Person returns one person. Refuses: Forbidden without keep_people; NotFound.
func (s *Service) Person(ctx context.Context, by inventory.Actor, id int64) (inventory.Person, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople, func(r inventory.Reader) (inventory.Person, error) {
		return r.Person(id)
	})
}

// PersonChange is what an administrator changes of a person. The name stays: the ledger keeps it.
type PersonChange struct {
	Role     inventory.Role
	Stations []string
	Disabled bool
	Secret   string // a new PIN or password; empty keeps the one there is
}

// ChangePerson changes what a person may do, or gives them another PIN or password. Whoever's role, secret or access
// changes is signed out everywhere, so that no session outlives what it was opened for. Refuses: Forbidden without
// keep_people, and for more than the actor may do; NotFound; Invalid by field, and where the actor has not just
// confirmed, which taking access away does not ask for; Conflict for the only administrator. Locks the person.
func (s *Service) ChangePerson(ctx context.Context, by inventory.Actor, id int64, in PersonChange,
	h Secrets) (inventory.Person, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (inventory.Person,
		error) {
		old, err := w.LockPerson(id)
		if err != nil {
			return old, err
		}
		p := old
		p.Role, p.Stations, p.Disabled = in.Role, stationsOf(in.Role, in.Stations), in.Disabled
		if in.Secret != "" || !onlyDisables(old, p) { // taking access away must be quick
			if err := cmp.Or(by.MustConfirm(s.now()), by.MustGrant(p.Grants())); err != nil {
				return old, err
			}
		}
		var ps inventory.Problems
		switch {
		case in.Secret != "":
			checkSecret(&ps, "secret", p.Role, p.Name, in.Secret)
		case old.Role.UsesPIN() != p.Role.UsesPIN():
			ps.Add("secret", "crew need a PIN, others a password")
		}
		if err := checkPerson(w, &ps, p, old.Stations); err != nil {
			return old, err
		}
		if err := keepsAdministrator(w, old, p); err != nil {
			return old, err
		}
		if in.Secret != "" {
			if p.SecretHash, err = h.Hash(in.Secret); err != nil {
				return old, err
			}
		}
		return p, s.storePerson(w, by, old, p)
	})
}

// onlyDisables tells whether a change does nothing but end a person's access.
func onlyDisables(old, p inventory.Person) bool {
	return p.Disabled && p.Role == old.Role && slices.Equal(p.Stations, old.Stations)
}

// storePerson keeps a changed person, ends sessions and writes the history.
func (s *Service) storePerson(w inventory.Writer, by inventory.Actor, old, p inventory.Person) error {
	if err := w.UpdatePerson(p); err != nil {
		return err
	}
	var entries []inventory.HistoryEntry
	if Standing(old) != Standing(p) {
		entries = append(entries, s.AboutPerson(by, inventory.HistoryPersonChanged, p, Standing(p)))
	}
	if old.SecretHash != p.SecretHash {
		entries = append(entries, s.AboutPerson(by, inventory.HistorySecretSet, p, ""))
	}
	if old.Role != p.Role || old.SecretHash != p.SecretHash || p.Disabled {
		if err := w.EndSessions(p.ID, 0); err != nil {
			return err
		}
	}
	return w.AddHistory(entries)
}

// keepsAdministrator refuses to leave the service without somebody who can let people in.
func keepsAdministrator(r inventory.Reader, old, changed inventory.Person) error {
	if !old.CanAdminister() || changed.CanAdminister() {
		return nil
	}
	people, err := r.People()
	another := func(p inventory.Person) bool { return p.ID != old.ID && p.CanAdminister() }
	if err == nil && !slices.ContainsFunc(people, another) {
		return inventory.Refuse(inventory.Conflict, "the only administrator: add another first")
	}
	return err
}

// DisablePerson ends a person's access; what they did stays. Refuses: Forbidden without keep_people; NotFound;
// Conflict for the only administrator. Locks the person.
func (s *Service) DisablePerson(ctx context.Context, by inventory.Actor, name string) error {
	return s.changeNamed(ctx, by, name, func(w inventory.Writer, p *inventory.Person) error {
		old := *p
		p.Disabled = true
		return keepsAdministrator(w, old, *p)
	})
}

// EnablePerson lets a disabled person in again, with the role, stations and secret they had; one who is not disabled
// stays as they are. Refuses: Forbidden without keep_people, and for more than the actor may do; NotFound; Invalid
// where the actor has not just confirmed. Locks the person.
func (s *Service) EnablePerson(ctx context.Context, by inventory.Actor, name string) error {
	return s.changeNamed(ctx, by, name, func(_ inventory.Writer, p *inventory.Person) error {
		p.Disabled = false
		return cmp.Or(by.MustConfirm(s.now()), by.MustGrant(p.Grants()))
	})
}

// SetSecret gives a person a new PIN (crew) or password and signs them out everywhere; a disabled person stays so.
// Refuses: Forbidden without keep_people, and for more than the actor may do; NotFound; Invalid for a weak secret or
// none, and where the actor has not just confirmed. Locks the person.
func (s *Service) SetSecret(ctx context.Context, by inventory.Actor, name, secret string, h Secrets) error {
	return s.changeNamed(ctx, by, name, func(_ inventory.Writer, p *inventory.Person) (err error) {
		var ps inventory.Problems
		checkSecret(&ps, "secret", p.Role, p.Name, secret)
		if err := cmp.Or(by.MustConfirm(s.now()), by.MustGrant(p.Grants()), ps.Err()); err != nil {
			return err
		}
		p.SecretHash, err = h.Hash(secret)
		return err
	})
}

// changeNamed changes one person, found by name and locked, for who keeps people.
func (s *Service) changeNamed(ctx context.Context, by inventory.Actor, name string,
	change func(inventory.Writer, *inventory.Person) error) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
			return err
		}
		old, err := w.PersonByName(inventory.OneLine(name))
		if err == nil {
			old, err = w.LockPerson(old.ID)
		}
		if err != nil {
			return err
		}
		p := old
		if err := change(w, &p); err != nil {
			return err
		}
		return s.storePerson(w, by, old, p)
	})
}

// ChangeOwnSecret gives the actor another PIN or password: they prove the one they have, are signed out everywhere,
// and go on with the session whose secret comes back. Refuses: Forbidden to a program; SignedOut where the session
// has ended or the secret was changed meanwhile; Invalid for a weak secret or a wrong old one; TooMany after wrong
// ones. Locks the person.
func (s *Service) ChangeOwnSecret(ctx context.Context, by inventory.Actor, cookie, old, secret string,
	h Secrets) (string, error) {
	if err := by.Must(inventory.ActAccount, ""); err != nil {
		return "", err
	}
	sess, p, err := s.ownSession(ctx, by, cookie)
	if err != nil {
		return "", err
	}
	var ps inventory.Problems
	checkSecret(&ps, "secret", p.Role, p.Name, secret)
	if err := ps.Err(); err != nil {
		return "", err
	}
	if err := s.proveAgain(ctx, p, sess, old, "old", h); err != nil {
		return "", err
	}
	hash, err := h.Hash(secret)
	if err != nil {
		return "", err
	}
	fresh := newSecret()
	return fresh, s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		now, err := w.LockPerson(p.ID)
		if err != nil || now.SecretHash != p.SecretHash || now.Disabled {
			return cmp.Or(err, errWrongSecret())
		}
		changed := now
		changed.SecretHash = hash
		if err := s.storePerson(w, by, now, changed); err != nil {
			return err
		}
		sess.Hash, sess.CreatedAt, sess.SeenAt = inventory.HashSecret(fresh), s.now(), s.now()
		return w.AddSession(sess)
	})
}

// proveAgain has somebody who is signed in give their secret once more. Wrong
// ones count, for the session alone. field names where it was typed.
func (s *Service) proveAgain(ctx context.Context, p inventory.Person, sess inventory.Session, secret, field string,
	h Secrets) error {
	a := attempt{person: p, counters: []counter{{"session " + sess.Ref(), nameOnTerminal}}}
	var refused error
	err := s.store.Write(ctx, func(_ context.Context, w inventory.Writer) (err error) {
		refused, err = a.count(w, s.now())
		return err
	})
	if err != nil || refused != nil {
		return cmp.Or(err, refused)
	}
	if !h.Match(p.SecretHash, secret) {
		return inventory.InvalidField(field, "wrong PIN or password")
	}
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return a.takeBack(w) })
}

// AboutAccess are the kinds that only who keeps people is shown.
var AboutAccess = []inventory.HistoryKind{
	inventory.HistorySignedIn, inventory.HistorySignedOut, inventory.HistorySignedOutAll, inventory.HistoryLocked,
	inventory.HistorySignRefused, inventory.HistoryPersonAdded, inventory.HistoryPersonChanged, inventory.HistorySecretSet,
	inventory.HistoryTokenAdded, inventory.HistoryTokenRevoked, inventory.HistoryTerminalAdded,
	inventory.HistoryTerminalEnrolled, inventory.HistoryTerminalRevoked,
}
