package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var peoplePromises = []promise{
	{"a person is kept whole", personKept},
	{"a person's name is unique, ignoring case", personNames},
	{"a person is changed", personUpdated},
	{"a person is locked, and their tries are stored alone", personTries},
	{"a token is kept whole and found by its hash", tokenKept},
	{"a token is changed", tokenUpdated},
	{"a token is touched, and nothing else of it changes", tokenTouched},
	{"a session is kept, touched and ended", sessionKept},
	{"sessions past their end are forgotten", sessionsForgotten},
}

func fullPerson() inventory.Person {
	return inventory.Person{
		Name: "Jörg Straße", Role: inventory.Quartermaster, Stations: []string{north, south}, SecretHash: "hash",
		Disabled: true, Attempts: 3,
		LockedTill: noon,
	}
}

func (c *scene) addPerson(p inventory.Person) inventory.Person {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		p, err = w.AddPerson(p)
		return err
	})
	return p
}

func person(id int64) func(inventory.Reader) (inventory.Person, error) {
	return func(r inventory.Reader) (inventory.Person, error) { return r.Person(id) }
}

func personByName(name string) func(inventory.Reader) (inventory.Person, error) {
	return func(r inventory.Reader) (inventory.Person, error) { return r.PersonByName(name) }
}

func personKept(c *scene) {
	want := fullPerson()
	p := c.addPerson(want)
	require.NotZero(c.t, p.ID)
	want.ID = p.ID
	assert.Equal(c.t, want, p)
	assert.Equal(c.t, want, got(c, person(p.ID)))
	var all []inventory.Person
	for _, role := range inventory.Roles {
		all = append(all, c.addPerson(inventory.Person{Name: "the " + string(role), Role: role}))
	}
	assert.Equal(c.t, append([]inventory.Person{want}, all...), got(c, inventory.Reader.People))
	absent(c, person(999))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddPerson(inventory.Person{Name: "x", Role: inventory.Crew, Stations: []string{"NOWHERE"}})
		return err
	})
}

func personNames(c *scene) {
	p := c.addPerson(fullPerson())
	for _, name := range []string{"Jörg Straße", "JÖRG STRASSE", "jo\u0308rg straße"} {
		assert.Equal(c.t, p, got(c, personByName(name)), name)
		twin := fullPerson()
		twin.Name = name
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddPerson(twin)
			return err
		})
	}
	absent(c, personByName("Jorg Strasse"))
	other := c.addPerson(inventory.Person{Name: "Other", Role: inventory.Crew})
	other.Name = "jörg straße"
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.UpdatePerson(other) })
}

func personUpdated(c *scene) {
	p := c.addPerson(fullPerson())
	changed := inventory.Person{ID: p.ID, Name: "J. S.", Role: inventory.Manager, Stations: []string{south},
		SecretHash: "other"}
	c.write(func(w inventory.Writer) error { return w.UpdatePerson(changed) })
	assert.Equal(c.t, changed, got(c, person(p.ID)), "zeros are stored too")
	assert.Equal(c.t, changed, got(c, personByName("j. s.")))
	changed.Stations = nil
	c.write(func(w inventory.Writer) error { return w.UpdatePerson(changed) })
	assert.Equal(c.t, changed, got(c, person(p.ID)))
	changed.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.UpdatePerson(changed) })
}

func token(hash string) func(inventory.Reader) (inventory.Token, error) {
	return func(r inventory.Reader) (inventory.Token, error) { return r.TokenByHash(hash) }
}

func (c *scene) addToken(t inventory.Token) inventory.Token {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		t, err = w.AddToken(t)
		return err
	})
	return t
}

func tokenKept(c *scene) {
	want := inventory.Token{
		Name: "report", Role: inventory.Manager, Stations: []string{north}, Hash: "aa", CreatedAt: noon, RevokedAt: noon + 1,
		LastUsed: inventory.MustDay("2026-11-24"),
	}
	kept := c.addToken(want)
	require.NotZero(c.t, kept.ID)
	want.ID = kept.ID
	assert.Equal(c.t, want, got(c, token("aa")))
	bare := c.addToken(inventory.Token{Name: "all", Role: inventory.Administrator, Hash: "bb", CreatedAt: noon})
	assert.Equal(c.t, []inventory.Token{want, bare}, got(c, inventory.Reader.Tokens))
	absent(c, token("cc"))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddToken(bare)
		return err
	})
}

func tokenUpdated(c *scene) {
	kept := c.addToken(inventory.Token{Name: "report", Role: inventory.Manager, Stations: []string{north}, Hash: "aa",
		CreatedAt: noon})
	changed := kept
	changed.Stations, changed.RevokedAt, changed.LastUsed = nil, noon+2, inventory.MustDay("2026-11-25")
	c.write(func(w inventory.Writer) error { return w.UpdateToken(changed) })
	assert.Equal(c.t, changed, got(c, token("aa")))
	changed.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.UpdateToken(changed) })
}

func session(hash string) func(inventory.Reader) (inventory.Session, error) {
	return func(r inventory.Reader) (inventory.Session, error) { return r.Session(hash) }
}

func (c *scene) newSession(hash string, from, to inventory.Instant) inventory.Session {
	c.t.Helper()
	people := got(c, inventory.Reader.People)
	if len(people) == 0 {
		people = append(people, c.addPerson(fullPerson()))
	}
	s := inventory.Session{Hash: hash, Person: people[0].ID, Device: "tablet", CreatedAt: from, SeenAt: from + 1,
		EndsAt: to}
	c.write(func(w inventory.Writer) error { return w.AddSession(s) })
	return s
}

func sessionKept(c *scene) {
	want := c.newSession("h", noon, noon+100)
	assert.Equal(c.t, want, got(c, session("h")))
	c.write(func(w inventory.Writer) error { return w.TouchSession("h", noon+7) })
	want.SeenAt = noon + 7
	assert.Equal(c.t, want, got(c, session("h")))
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddSession(want) })
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.TouchSession("none", noon) })
	for range 2 {
		c.write(func(w inventory.Writer) error { return w.EndSession("h") })
	}
	absent(c, session("h"))
}

func sessionsForgotten(c *scene) {
	c.newSession("old", noon, noon+100)
	c.newSession("open", noon, noon+1000)
	c.newSession("new", noon+500, noon+2000)
	absent(c, session("old"))
	got(c, session("open"))
}

func personTries(c *scene) {
	want := c.addPerson(fullPerson())
	c.write(func(w inventory.Writer) error {
		locked, err := w.LockPerson(want.ID)
		require.NoError(c.t, err)
		assert.Equal(c.t, want, locked)
		return w.SetPersonAttempts(want.ID, 7, noon+9)
	})
	want.Attempts, want.LockedTill = 7, noon+9
	assert.Equal(c.t, want, got(c, person(want.ID)))
	c.write(func(w inventory.Writer) error { return w.SetPersonAttempts(want.ID, 0, 0) })
	want.Attempts, want.LockedTill = 0, 0
	assert.Equal(c.t, want, got(c, person(want.ID)))
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetPersonAttempts(999, 1, 0) })
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		_, err := w.LockPerson(999)
		return err
	})
}

func tokenTouched(c *scene) {
	want := c.addToken(inventory.Token{Name: "report", Role: inventory.Manager, Stations: []string{north}, Hash: "aa",
		CreatedAt: noon, RevokedAt: noon + 1})
	want.LastUsed = inventory.MustDay("2026-11-25")
	c.write(func(w inventory.Writer) error { return w.TouchToken(want.ID, want.LastUsed) })
	assert.Equal(c.t, want, got(c, token("aa")))
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.TouchToken(999, want.LastUsed) })
}
