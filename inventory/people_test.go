package inventory_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/store/storetest"
)

// reversed is a quick stand-in for a real hash.
type reversed struct{}

func (reversed) Hash(secret string) (string, error) { return "hash:" + secret, nil }
func (reversed) Match(hash, secret string) bool     { return hash == "hash:"+secret }

func (h *house) person(name string, role inventory.Role, secret string, stations ...string) inventory.Person {
	p, err := h.s.Account.CreatePerson(h.ctx, admin, inventory.Person{Name: name, Role: role, Stations: stations}, secret,
		reversed{})
	require.NoError(h.t, err)
	return p
}

// enrolled enrols a terminal and returns the secret of its cookie.
func (h *house) enrolled(name, station string) string {
	t, err := h.s.Account.AddTerminal(h.ctx, admin, name, station)
	require.NoError(h.t, err)
	secret, err := h.s.Account.EnrolHere(h.ctx, admin, t.ID)
	require.NoError(h.t, err)
	return secret
}

// tablet is where people of a house sign in: a terminal of all stations.
func (h *house) tablet() account.From {
	if h.terminal == "" {
		h.terminal = h.enrolled("tablet", "")
	}
	return account.From{Terminal: h.terminal, Browser: "a browser"}
}

func (h *house) signIn(name, secret string) (string, error) {
	return h.s.Account.SignIn(h.ctx, name, secret, h.tablet(), reversed{})
}

func TestCreatePersonRefuses(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	for _, c := range []struct {
		in     inventory.Person
		secret string
		paths  []string
	}{
		{inventory.Person{Name: " ", Role: inventory.Crew, Stations: []string{"NORTH"}}, "4821", []string{"name"}},
		{inventory.Person{Name: "C", Role: "chief"}, "long enough it is", []string{"role"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"NORTH"}}, "123", []string{"secret"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"NORTH"}}, "482173501", []string{"secret"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"NORTH"}}, "12a4", []string{"secret"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"NORTH"}}, "1234", []string{"secret"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"NORTH"}}, "١٢٣٤", []string{"secret"}},
		{inventory.Person{Name: "C", Role: inventory.Crew}, "4821", []string{"stations"}},
		{inventory.Person{Name: "C", Role: inventory.Crew, Stations: []string{"WEST"}}, "4821", []string{"stations"}},
		{inventory.Person{Name: "M", Role: inventory.Manager}, "eleven char", []string{"secret"}},
		{inventory.Person{Name: "M", Role: inventory.Manager}, strings.Repeat("xyzwv", 41), []string{"secret"}},
	} {
		_, err := h.s.Account.CreatePerson(h.ctx, admin, c.in, c.secret, reversed{})
		requireFields(t, err, c.paths...)
		assert.NotContains(t, err.Error(), c.secret)
	}
	_, err := h.s.Account.CreatePerson(h.ctx, keeper, inventory.Person{Name: "M", Role: inventory.Manager}, "twelve chars",
		reversed{})
	requireKind(t, inventory.Forbidden, err)
	h.person("  Cleo   Crew ", inventory.Crew, "4821", "NORTH")
	_, err = h.s.Account.CreatePerson(h.ctx, admin, inventory.Person{Name: "CLEO CREW", Role: inventory.Crew,
		Stations: []string{"NORTH"}}, "4821", reversed{})
	requireKind(t, inventory.Conflict, err)
	people, err := h.s.Account.People(h.ctx, admin)
	require.NoError(t, err)
	require.Len(t, people, 1)
	assert.Equal(t, "Cleo Crew", people[0].Name)
	_, err = h.s.Account.People(h.ctx, manager)
	requireKind(t, inventory.Forbidden, err)
}

func TestSignInAndOut(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		h.person("Cleo", inventory.Crew, "4821", "NORTH")
		cookie, err := h.signIn(" cleo ", "4821")
		require.NoError(t, err)
		assert.GreaterOrEqual(t, len(cookie), 40)
		actor, err := h.s.Account.SessionActor(h.ctx, cookie)
		require.NoError(t, err)
		assert.Len(t, actor.Session, 16)
		actor.Session = ""
		assert.Equal(t, inventory.Actor{Name: "Cleo", Role: inventory.Crew, Stations: []string{"NORTH"}, From: "tablet"},
			actor)

		other, err := h.signIn("Cleo", "4821")
		require.NoError(t, err)
		assert.NotEqual(t, cookie, other, "each device has its own")
		require.NoError(t, h.s.Account.SignOut(h.ctx, cookie))
		_, err = h.s.Account.SessionActor(h.ctx, cookie)
		requireKind(t, inventory.SignedOut, err)
		_, err = h.s.Account.SessionActor(h.ctx, other)
		require.NoError(t, err)
		for _, forged := range []string{"", "x", other + "x"} {
			_, err = h.s.Account.SessionActor(h.ctx, forged)
			requireKind(t, inventory.SignedOut, err)
		}

		require.NoError(t, h.s.Account.DisablePerson(h.ctx, admin, "Cleo"))
		_, err = h.s.Account.SessionActor(h.ctx, other)
		requireKind(t, inventory.SignedOut, err)
		_, err = h.signIn("Cleo", "4821")
		requireKind(t, inventory.SignedOut, err)
		requireKind(t, inventory.Forbidden, h.s.Account.DisablePerson(h.ctx, keeper, "Cleo"))
		requireKind(t, inventory.NotFound, h.s.Account.DisablePerson(h.ctx, admin, "Nobody"))
	})
}

// TestWrongSecretsWait: five wrong ones are free; then the name waits a
// minute, twice as long each time, at most a quarter of an hour; a right one in between
// does not help, a right one afterwards begins anew.
func TestWrongSecretsWait(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		h.person("Cleo", inventory.Crew, "4821", "NORTH")
		_, unknown := h.signIn("Nobody", "4821")
		for range 4 {
			_, err := h.signIn("Cleo", "0000")
			requireKind(t, inventory.SignedOut, err)
			assert.Equal(t, unknown, err, "it does not say which of the two was wrong")
		}
		_, err := h.signIn("Cleo", "4821")
		require.NoError(t, err, "four wrong ones do not lock")

		for range 5 {
			_, err := h.signIn("Cleo", "0000")
			requireKind(t, inventory.SignedOut, err)
		}
		for _, wait := range []time.Duration{1, 2, 4, 8, 15, 15, 15} {
			_, err = h.signIn("Cleo", "4821")
			requireKind(t, inventory.TooMany, err)
			h.pass(wait*time.Minute - time.Microsecond)
			_, err = h.signIn("Cleo", "4821")
			requireKind(t, inventory.TooMany, err)
			h.pass(time.Microsecond)
			_, err = h.signIn("Cleo", "0000")
			requireKind(t, inventory.SignedOut, err)
		}
		h.pass(30 * time.Minute)
		_, err = h.signIn("Cleo", "4821")
		require.NoError(t, err)
		_, err = h.signIn("Cleo", "0000")
		requireKind(t, inventory.SignedOut, err)
		_, err = h.signIn("Cleo", "4821")
		require.NoError(t, err, "the count began anew")
	})
}

func TestSessionsEnd(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Cleo", inventory.Crew, "4821", "NORTH")
	idle, err := h.signIn("Cleo", "4821")
	require.NoError(t, err)
	h.pass(account.SessionIdle)
	_, err = h.s.Account.SessionActor(h.ctx, idle)
	require.NoError(t, err, "the last moment; now it is in use again")
	h.pass(account.SessionIdle + time.Microsecond)
	_, err = h.s.Account.SessionActor(h.ctx, idle)
	requireKind(t, inventory.SignedOut, err)

	busy, err := h.signIn("Cleo", "4821")
	require.NoError(t, err)
	for range 7*24 - 1 {
		h.pass(time.Hour)
		_, err = h.s.Account.SessionActor(h.ctx, busy)
		require.NoError(t, err)
	}
	h.pass(time.Hour + time.Microsecond)
	_, err = h.s.Account.SessionActor(h.ctx, busy)
	requireKind(t, inventory.SignedOut, err)
}

func TestTokens(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		text, err := h.s.Account.CreateToken(h.ctx, admin, inventory.Token{Name: "scanner", Role: inventory.Quartermaster,
			Stations: []string{"NORTH"}})
		require.NoError(t, err)
		actor, err := h.s.Account.TokenActor(h.ctx, text)
		require.NoError(t, err)
		assert.Equal(t, inventory.Actor{Name: "scanner", Role: inventory.Quartermaster, Stations: []string{"NORTH"},
			Program: true, From: "API"}, actor)

		var kept inventory.Token
		require.NoError(t, s.Write(h.ctx, func(_ context.Context, w inventory.Writer) error {
			all, err := w.Tokens()
			require.Len(t, all, 1)
			kept = all[0]
			assert.NotContains(t, kept.Hash, text, "the text is not kept")
			assert.Equal(t, "2027-06-14", kept.LastUsed.String())
			kept.RevokedAt = h.now
			require.NoError(t, w.UpdateToken(kept))
			return err
		}))
		for _, bad := range []string{text, "sk_nonsense", ""} {
			_, err = h.s.Account.TokenActor(h.ctx, bad)
			requireKind(t, inventory.SignedOut, err)
		}
		_, err = h.s.Account.CreateToken(h.ctx, admin, inventory.Token{Role: "robot", Stations: []string{"WEST"}})
		requireFields(t, err, "name", "role", "stations")
		_, err = h.s.Account.CreateToken(h.ctx, admin, inventory.Token{Name: "door", Role: inventory.Crew})
		requireFields(t, err, "stations")
		_, err = h.s.Account.CreateToken(h.ctx, keeper, inventory.Token{Name: "x", Role: inventory.Crew,
			Stations: []string{"NORTH"}})
		requireKind(t, inventory.Forbidden, err)
	})
}
