package inventory

import (
	"cmp"
	"context"
	"slices"
	"strings"
)

// CreatePerson makes a person who can sign in: crew with a PIN, the others
// with a password.
func (s *Service) CreatePerson(ctx context.Context, by Actor, in Person, secret string, h Secrets) (Person, error) {
	return write(ctx, s, func(w Writer) (Person, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return in, err
		}
		if err := by.mustConfirm(s.Now()); err != nil {
			return in, err
		}
		return s.addPerson(w, by, in, secret, h)
	})
}

func (s *Service) addPerson(w Writer, by Actor, in Person, secret string, h Secrets) (Person, error) {
	in.Name, in.Sites = oneLine(in.Name), sitesOf(in.Role, in.Sites)
	var ps problems
	checkText(&ps, "name", in.Name, true, 60)
	checkSecret(&ps, "secret", in.Role, in.Name, secret)
	if err := checkPerson(w, &ps, in); err != nil {
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
	if in, err = w.AddPerson(in); err != nil {
		return in, err
	}
	return in, w.AddDeeds([]Deed{s.aboutPerson(by, DeedPersonAdded, in, standing(in))})
}

// aboutPerson is a deed about a person.
func (s *Service) aboutPerson(by Actor, kind DeedKind, p Person, detail string) Deed {
	return Deed{At: s.Now(), By: by.Name, From: by.From, Kind: kind, Person: p.Name, Detail: detail}
}

// standing says what a person may do and where, for the history.
func standing(p Person) string {
	text := string(p.Role)
	if len(p.Sites) > 0 {
		text += ", " + strings.Join(p.Sites, " ")
	}
	if p.Disabled {
		text += ", disabled"
	}
	return text
}

// sitesOf leaves an administrator's sites out: they belong to every one.
func sitesOf(role Role, sites []string) []string {
	if role == Administrator {
		return nil
	}
	return sites
}

// checkWho judges a person who gets no secret yet.
func checkWho(r Reader, in Person) error {
	var ps problems
	checkText(&ps, "name", in.Name, true, 60)
	return checkPerson(r, &ps, in)
}

// checkPerson adds what is wrong with role and sites, and returns all of it.
func checkPerson(r Reader, ps *problems, in Person) error {
	checkRole(ps, in.Role)
	ps.when(in.Role == Crew && len(in.Sites) == 0, "sites", "name the sites that the person belongs to")
	if err := knownSites(r, ps, in.Sites); err != nil {
		return err
	}
	return ps.err()
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
	ps.when(!slices.Contains(Roles, role), "role", "choose crew, quartermaster, manager or administrator")
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

// Person returns one person.
func (s *Service) Person(ctx context.Context, by Actor, id int64) (Person, error) {
	return read(ctx, s, func(r Reader) (Person, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return Person{}, err
		}
		return r.Person(id)
	})
}

// PersonChange is what an administrator changes of a person. The name stays:
// the ledger keeps it.
type PersonChange struct {
	Role     Role
	Sites    []string
	Disabled bool
	Secret   string // a new PIN or password; empty keeps the one there is
}

// ChangePerson changes what a person may do, or gives them another PIN or
// password. Whoever's role, secret or access changes is signed out everywhere,
// so that no session outlives what it was opened for.
func (s *Service) ChangePerson(ctx context.Context, by Actor, id int64, in PersonChange, h Secrets) (Person, error) {
	return write(ctx, s, func(w Writer) (Person, error) {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return Person{}, err
		}
		old, err := w.LockPerson(id)
		if err != nil {
			return old, err
		}
		p := old
		p.Role, p.Sites, p.Disabled = in.Role, sitesOf(in.Role, in.Sites), in.Disabled
		if in.Secret != "" || !onlyDisables(old, p) { // taking access away must be quick
			if err := by.mustConfirm(s.Now()); err != nil {
				return old, err
			}
		}
		var ps problems
		switch {
		case in.Secret != "":
			checkSecret(&ps, "secret", p.Role, p.Name, in.Secret)
		case old.Role.UsesPIN() != p.Role.UsesPIN():
			ps.add("secret", "give a PIN for crew, a password for the others: the one there is does not fit the role")
		}
		if err := checkPerson(w, &ps, p); err != nil {
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
func onlyDisables(old, p Person) bool {
	return p.Disabled && p.Role == old.Role && slices.Equal(p.Sites, old.Sites)
}

// storePerson keeps a changed person, ends sessions and writes the history.
func (s *Service) storePerson(w Writer, by Actor, old, p Person) error {
	if err := w.UpdatePerson(p); err != nil {
		return err
	}
	var deeds []Deed
	if standing(old) != standing(p) {
		deeds = append(deeds, s.aboutPerson(by, DeedPersonChanged, p, standing(p)))
	}
	if old.SecretHash != p.SecretHash {
		deeds = append(deeds, s.aboutPerson(by, DeedSecretSet, p, ""))
	}
	if old.Role != p.Role || old.SecretHash != p.SecretHash || p.Disabled {
		if err := w.EndSessions(p.ID, 0); err != nil {
			return err
		}
	}
	return w.AddDeeds(deeds)
}

// keeps tells whether a person can sign in as administrator.
func (p Person) keeps() bool { return p.Role == Administrator && !p.Disabled && p.SecretHash != "" }

// keepsAdministrator refuses to leave the service without somebody who can let
// people in.
func keepsAdministrator(r Reader, old, changed Person) error {
	if !old.keeps() || changed.keeps() {
		return nil
	}
	people, err := r.People()
	if err == nil && !slices.ContainsFunc(people, func(p Person) bool { return p.ID != old.ID && p.keeps() }) {
		return Errorf(Conflict, "this is the only administrator: make another one first")
	}
	return err
}

// DisablePerson ends a person's access; what they did stays.
func (s *Service) DisablePerson(ctx context.Context, by Actor, name string) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		if err := by.must(ActKeepPeople, ""); err != nil {
			return err
		}
		p, err := w.PersonByName(oneLine(name))
		if err != nil {
			return err
		}
		if p, err = w.LockPerson(p.ID); err != nil {
			return err
		}
		disabled := p
		disabled.Disabled = true
		if err := keepsAdministrator(w, p, disabled); err != nil {
			return err
		}
		return s.storePerson(w, by, p, disabled)
	})
}

// ChangeOwnSecret gives the actor another PIN or password: they prove the one
// they have, are signed out everywhere, and go on with the session whose secret
// comes back.
func (s *Service) ChangeOwnSecret(ctx context.Context, by Actor, cookie, old, secret string, h Secrets) (string, error) {
	if err := by.must(ActAccount, ""); err != nil {
		return "", err
	}
	sess, p, err := s.ownSession(ctx, by, cookie)
	if err != nil {
		return "", err
	}
	var ps problems
	checkSecret(&ps, "secret", p.Role, p.Name, secret)
	if err := ps.err(); err != nil {
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
	return fresh, s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		now, err := w.LockPerson(p.ID)
		if err != nil || now.SecretHash != p.SecretHash || now.Disabled {
			return cmp.Or(err, errWrongSecret())
		}
		changed := now
		changed.SecretHash = hash
		if err := s.storePerson(w, by, now, changed); err != nil {
			return err
		}
		sess.Hash, sess.CreatedAt, sess.SeenAt = hashSecret(fresh), s.Now(), s.Now()
		return w.AddSession(sess)
	})
}

// proveAgain has somebody who is signed in give their secret once more. Wrong
// ones count, for the session alone. field names where it was typed.
func (s *Service) proveAgain(ctx context.Context, p Person, sess Session, secret, field string, h Secrets) error {
	a := attempt{person: p, counters: []counter{{"session " + sess.Ref(), nameOnTerminal}}}
	var refused error
	err := s.Store.Write(ctx, func(_ context.Context, w Writer) (err error) {
		refused, err = a.count(w, s.Now())
		return err
	})
	if err != nil || refused != nil {
		return cmp.Or(err, refused)
	}
	if !h.Match(p.SecretHash, secret) {
		return Invalidf(field, "give the PIN or password that you have now")
	}
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error { return a.takeBack(w) })
}
