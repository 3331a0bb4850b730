package account_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

func TestCreatePersonRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
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
		_, err := h.S.Account.CreatePerson(h.Ctx, fixture.Admin, c.in, c.secret, fixture.Reversed{})
		inventorytest.RequireFields(t, err, c.paths...)
		assert.NotContains(t, err.Error(), c.secret)
	}
	_, err := h.S.Account.CreatePerson(h.Ctx, fixture.Keeper, inventory.Person{Name: "M", Role: inventory.Manager},
		"twelve chars",
		fixture.Reversed{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	h.Person("  Cleo   Crew ", inventory.Crew, "4821", "NORTH")
	_, err = h.S.Account.CreatePerson(h.Ctx, fixture.Admin, inventory.Person{Name: "CLEO CREW", Role: inventory.Crew,
		Stations: []string{"NORTH"}}, "4821", fixture.Reversed{})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	people, err := h.S.Account.People(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	require.Len(t, people, 1)
	assert.Equal(t, "Cleo Crew", people[0].Name)
	_, err = h.S.Account.People(h.Ctx, fixture.Manager)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

func TestSignInAndOut(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Person("Cleo", inventory.Crew, "4821", "NORTH")
		cookie, err := h.SignIn(" cleo ", "4821")
		require.NoError(t, err)
		assert.GreaterOrEqual(t, len(cookie), 40)
		actor, err := h.S.Account.SessionActor(h.Ctx, cookie)
		require.NoError(t, err)
		assert.Len(t, actor.Session, 16)
		actor.Session = ""
		assert.Equal(t, inventory.Actor{Name: "Cleo", Role: inventory.Crew, Stations: []string{"NORTH"}, From: "tablet"},
			actor)

		other, err := h.SignIn("Cleo", "4821")
		require.NoError(t, err)
		assert.NotEqual(t, cookie, other, "each device has its own")
		require.NoError(t, h.S.Account.SignOut(h.Ctx, cookie))
		_, err = h.S.Account.SessionActor(h.Ctx, cookie)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.S.Account.SessionActor(h.Ctx, other)
		require.NoError(t, err)
		for _, forged := range []string{"", "x", other + "x"} {
			_, err = h.S.Account.SessionActor(h.Ctx, forged)
			inventorytest.RequireKind(t, inventory.SignedOut, err)
		}

		require.NoError(t, h.S.Account.DisablePerson(h.Ctx, fixture.Admin, "Cleo"))
		_, err = h.S.Account.SessionActor(h.Ctx, other)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.SignIn("Cleo", "4821")
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		inventorytest.RequireKind(t, inventory.Forbidden, h.S.Account.DisablePerson(h.Ctx, fixture.Keeper, "Cleo"))
		inventorytest.RequireKind(t, inventory.NotFound, h.S.Account.DisablePerson(h.Ctx, fixture.Admin, "Nobody"))
	})
}

// TestWrongSecretsWait: five wrong ones are free; then the name waits a
// minute, twice as long each time, at most a quarter of an hour; a right one in between
// does not help, a right one afterwards begins anew.
func TestWrongSecretsWait(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Person("Cleo", inventory.Crew, "4821", "NORTH")
		_, unknown := h.SignIn("Nobody", "4821")
		for range 4 {
			_, err := h.SignIn("Cleo", "0000")
			inventorytest.RequireKind(t, inventory.SignedOut, err)
			assert.Equal(t, unknown, err, "it does not say which of the two was wrong")
		}
		_, err := h.SignIn("Cleo", "4821")
		require.NoError(t, err, "four wrong ones do not lock")

		for range 5 {
			_, err := h.SignIn("Cleo", "0000")
			inventorytest.RequireKind(t, inventory.SignedOut, err)
		}
		for _, wait := range []time.Duration{1, 2, 4, 8, 15, 15, 15} {
			_, err = h.SignIn("Cleo", "4821")
			inventorytest.RequireKind(t, inventory.TooMany, err)
			h.Pass(wait*time.Minute - time.Microsecond)
			_, err = h.SignIn("Cleo", "4821")
			inventorytest.RequireKind(t, inventory.TooMany, err)
			h.Pass(time.Microsecond)
			_, err = h.SignIn("Cleo", "0000")
			inventorytest.RequireKind(t, inventory.SignedOut, err)
		}
		h.Pass(30 * time.Minute)
		_, err = h.SignIn("Cleo", "4821")
		require.NoError(t, err)
		_, err = h.SignIn("Cleo", "0000")
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.SignIn("Cleo", "4821")
		require.NoError(t, err, "the count began anew")
	})
}

func TestSessionsEnd(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Cleo", inventory.Crew, "4821", "NORTH")
	idle, err := h.SignIn("Cleo", "4821")
	require.NoError(t, err)
	h.Pass(account.SessionIdle)
	_, err = h.S.Account.SessionActor(h.Ctx, idle)
	require.NoError(t, err, "the last moment; now it is in use again")
	h.Pass(account.SessionIdle + time.Microsecond)
	_, err = h.S.Account.SessionActor(h.Ctx, idle)
	inventorytest.RequireKind(t, inventory.SignedOut, err)

	busy, err := h.SignIn("Cleo", "4821")
	require.NoError(t, err)
	for range 7*24 - 1 {
		h.Pass(time.Hour)
		_, err = h.S.Account.SessionActor(h.Ctx, busy)
		require.NoError(t, err)
	}
	h.Pass(time.Hour + time.Microsecond)
	_, err = h.S.Account.SessionActor(h.Ctx, busy)
	inventorytest.RequireKind(t, inventory.SignedOut, err)
}

func TestTokens(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		text, err := h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: "scanner",
			Role:     inventory.Quartermaster,
			Stations: []string{"NORTH"}})
		require.NoError(t, err)
		actor, err := h.S.Account.TokenActor(h.Ctx, text)
		require.NoError(t, err)
		assert.Equal(t, inventory.Actor{Name: "scanner", Role: inventory.Quartermaster, Stations: []string{"NORTH"},
			Program: true, From: "API"}, actor)

		var kept inventory.Token
		require.NoError(t, s.Write(h.Ctx, func(_ context.Context, w inventory.Writer) error {
			all, err := w.Tokens()
			require.Len(t, all, 1)
			kept = all[0]
			assert.NotContains(t, kept.Hash, text, "the text is not kept")
			assert.Equal(t, "2027-06-14", kept.LastUsed.String())
			kept.RevokedAt = h.Now
			require.NoError(t, w.UpdateToken(kept))
			return err
		}))
		for _, bad := range []string{text, "sk_nonsense", ""} {
			_, err = h.S.Account.TokenActor(h.Ctx, bad)
			inventorytest.RequireKind(t, inventory.SignedOut, err)
		}
		_, err = h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Role: "robot", Stations: []string{"WEST"}})
		inventorytest.RequireFields(t, err, "name", "role", "stations")
		_, err = h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: "door", Role: inventory.Crew})
		inventorytest.RequireFields(t, err, "stations")
		_, err = h.S.Account.CreateToken(h.Ctx, fixture.Keeper, inventory.Token{Name: "x", Role: inventory.Crew,
			Stations: []string{"NORTH"}})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}
