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
		assert.Equal(t, inventory.Actor{Name: "Cleo", Role: inventory.Crew, Stations: []string{"NORTH"}, From: "tablet",
			LockMinutes: int(account.SessionIdle.Minutes())}, actor)

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

// TestOnePersonByName: whoever keeps people disables, enables and gives another secret by name; each signs the person
// out where it should, is in the history, and leaves the rest of the person as it is.
func TestOnePersonByName(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		accounts, secrets := h.S.Account, fixture.Reversed{}
		h.Person("Cleo", inventory.Crew, "4821", "NORTH")
		first, err := h.SignIn("Cleo", "4821")
		require.NoError(t, err)
		require.NoError(t, accounts.EnablePerson(h.Ctx, fixture.Admin, "Cleo"))
		_, err = accounts.SessionActor(h.Ctx, first)
		require.NoError(t, err, "who is enabled already goes on")

		require.NoError(t, accounts.SetSecret(h.Ctx, fixture.Admin, " cleo ", "7350", secrets))
		_, err = accounts.SessionActor(h.Ctx, first)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.SignIn("Cleo", "4821")
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.SignIn("Cleo", "7350")
		require.NoError(t, err)

		require.NoError(t, accounts.DisablePerson(h.Ctx, fixture.Admin, "Cleo"))
		require.NoError(t, accounts.SetSecret(h.Ctx, fixture.Admin, "Cleo", "4821", secrets))
		_, err = h.SignIn("Cleo", "4821")
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		require.NoError(t, accounts.EnablePerson(h.Ctx, fixture.Admin, " CLEO "))
		_, err = h.SignIn("Cleo", "4821")
		require.NoError(t, err)
		people, err := accounts.People(h.Ctx, fixture.Admin)
		require.NoError(t, err)
		assert.Equal(t, []string{"NORTH"}, people[0].Stations)

		entries, _, err := h.S.History.History(h.Ctx, fixture.Admin, inventory.HistoryFilter{Person: "Cleo"},
			inventory.Page{})
		require.NoError(t, err)
		var told []string
		for _, e := range entries {
			if e.By == fixture.Admin.Name && e.Kind != inventory.HistoryPersonAdded {
				told = append(told, string(e.Kind)+" "+e.Detail)
			}
		}
		assert.Equal(t, []string{"person_changed crew, NORTH", "secret_set ", "person_changed crew, NORTH, disabled",
			"secret_set "}, told)
	})
}

// TestOnePersonByNameRefuses: a wrong secret, an unknown name or somebody who keeps no people changes nothing, and
// the last administrator stays one.
func TestOnePersonByNameRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	accounts, secrets := h.S.Account, fixture.Reversed{}
	h.Person("Ada", inventory.Administrator, "seven lamps at dusk")
	for _, weak := range []string{"", "4821", "eleven char"} {
		inventorytest.RequireFields(t, accounts.SetSecret(h.Ctx, fixture.Admin, "Ada", weak, secrets), "secret")
	}
	inventorytest.RequireKind(t, inventory.Conflict, accounts.DisablePerson(h.Ctx, fixture.Admin, "Ada"))
	cookie, err := h.SignIn("Ada", "seven lamps at dusk")
	require.NoError(t, err)
	ada, err := accounts.SessionActor(h.Ctx, cookie)
	require.NoError(t, err)
	inventorytest.RequireFields(t, accounts.EnablePerson(h.Ctx, ada, "Ada"), inventory.ConfirmField)
	inventorytest.RequireFields(t, accounts.SetSecret(h.Ctx, ada, "Ada", "nine doors by the sea", secrets),
		inventory.ConfirmField)
	for by, kind := range map[*inventory.Actor]inventory.ErrorKind{&fixture.Keeper: inventory.Forbidden,
		&fixture.Admin: inventory.NotFound} {
		inventorytest.RequireKind(t, kind, accounts.DisablePerson(h.Ctx, *by, "Nobody"))
		inventorytest.RequireKind(t, kind, accounts.EnablePerson(h.Ctx, *by, "Nobody"))
		inventorytest.RequireKind(t, kind, accounts.SetSecret(h.Ctx, *by, "Nobody", "nine doors by the sea", secrets))
	}
	_, err = h.SignIn("Ada", "seven lamps at dusk")
	require.NoError(t, err)
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
			Program: true, EndsAt: h.Now.Add(account.TokenLife), From: "API"}, actor)

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

// TestNamesThatLookAlike: nobody gets a name that looks like another's, or that has signs in it which nobody sees, and
// is told which; a name that only begins like another's, or has an accent, is as good as any.
func TestNamesThatLookAlike(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	person := func(name string) error {
		_, err := h.S.Account.CreatePerson(h.Ctx, fixture.Admin, inventory.Person{Name: name, Role: inventory.Manager},
			"seven lamps at dusk", fixture.Reversed{})
		return err
	}
	_, err := h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: "scales", Role: inventory.Manager})
	require.NoError(t, err)
	require.NoError(t, person("Cal Pane"))
	for _, name := range []string{"Cal Panes", "Cál Pane", "Žofie", "О’Нил", "山田"} {
		assert.NoError(t, person(name), name)
	}
	for name, says := range map[string]string{
		"cal pane":       "name already used",
		"CaI Pane":       "looks like Cal Pane: choose another name", // an upper-case I
		"С\u0430l Pane":  "looks like Cal Pane: choose another name", // Cyrillic
		"sсales":         "looks like scales: choose another name",
		"Ada\u202Ereg":   "name: remove U+202E RIGHT-TO-LEFT OVERRIDE",
		"Cal\u200B Pane": "name: remove U+200B ZERO WIDTH SPACE",
		"\u2066Bo":       "name: remove U+2066 LEFT-TO-RIGHT ISOLATE",
		"Bo\u3164":       "name: remove U+3164 HANGUL FILLER",
		"Bo\uFE0F Pane":  "name: remove U+FE0F VARIATION SELECTOR-16",
		"Cal\x07 Pane":   "name: remove U+0007 <control>",
	} {
		err := person(name)
		require.Error(t, err, "%q", name)
		assert.Contains(t, err.Error(), says, "%q", name)
	}
	_, err = h.S.Lists.CreateItem(h.Ctx, fixture.Admin, inventory.Item{Code: "X-1", Name: "Gau\u200Dze",
		Category: inventory.CategoryPlainDressing, Unit: "each", TrackedBy: inventory.ByLot})
	assert.ErrorContains(t, err, "name: remove U+200D ZERO WIDTH JOINER")
}
