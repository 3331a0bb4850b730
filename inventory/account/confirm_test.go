package account_test

import (
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

// TestWhoGetsInIsConfirmed: an administrator who is signed in changes who gets
// in only after typing their password once more, within a minute of it; taking
// access away asks for nothing, and programs have no session to be found open.
func TestWhoGetsInIsConfirmed(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Ada", inventory.Administrator, "seven lamps at dusk")
	ben := h.Person("Ben", inventory.Manager, "eight boats at noon")
	spare, err := h.S.Account.AddTerminal(h.Ctx, fixture.Admin, "spare", "")
	require.NoError(t, err)
	cookie, err := h.SignIn("Ada", "seven lamps at dusk")
	require.NoError(t, err)
	ada, err := h.S.Account.SessionActor(h.Ctx, cookie)
	require.NoError(t, err)
	n := 0
	changes := map[string]func(by inventory.Actor) error{
		"person added": func(by inventory.Actor) error {
			n++
			_, err := h.S.Account.CreatePerson(h.Ctx, by, inventory.Person{Name: "New " + string(rune('A'+n)),
				Role: inventory.Manager}, "nine doors by the sea", fixture.Reversed{})
			return err
		},
		"role": func(by inventory.Actor) error {
			_, err := h.S.Account.ChangePerson(h.Ctx, by, ben.ID, account.PersonChange{Role: inventory.Quartermaster},
				fixture.Reversed{})
			return err
		},
		"stations": func(by inventory.Actor) error {
			_, err := h.S.Account.ChangePerson(h.Ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager,
				Stations: []string{"NORTH"}}, fixture.Reversed{})
			return err
		},
		"secret and end": func(by inventory.Actor) error {
			_, err := h.S.Account.ChangePerson(h.Ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager,
				Stations: []string{"NORTH"}, Disabled: true, Secret: "ten gulls in a row"}, fixture.Reversed{})
			return err
		},
		"let in again": func(by inventory.Actor) error {
			_, err := h.S.Account.ChangePerson(h.Ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager},
				fixture.Reversed{})
			return err
		},
		"token": func(by inventory.Actor) error {
			n++
			_, err := h.S.Account.CreateToken(h.Ctx, by, inventory.Token{Name: "till " + string(rune('A'+n)),
				Role: inventory.Manager})
			return err
		},
		"terminal here": func(by inventory.Actor) error { _, err := h.S.Account.EnrolHere(h.Ctx, by, spare.ID); return err },
		"terminal link": func(by inventory.Actor) error { _, err := h.S.Account.EnrolLink(h.Ctx, by, spare.ID); return err },
		"own sign-out":  func(by inventory.Actor) error { return h.S.Account.EndSessions(h.Ctx, by, "Ada", "no such") },
	}
	for _, change := range changes {
		inventorytest.RequireFields(t, change(ada), "own_password")
	}
	for _, wrong := range []string{"", "eight boats at noon"} {
		_, fresh, err := h.S.Account.Confirm(h.Ctx, ada, cookie, wrong, fixture.Reversed{})
		inventorytest.RequireFields(t, err, "own_password")
		require.Empty(t, fresh)
	}
	sure, fresh, err := h.S.Account.Confirm(h.Ctx, ada, cookie, "seven lamps at dusk", fixture.Reversed{})
	require.NoError(t, err)
	_, err = h.S.Account.SessionActor(h.Ctx, cookie)
	inventorytest.RequireKind(t, inventory.SignedOut, err)
	later, err := h.S.Account.SessionActor(h.Ctx, fresh)
	require.NoError(t, err, "another session took its place")
	inventorytest.RequireFields(t, changes["token"](later), "own_password")
	for name, change := range changes {
		if err := change(sure); name != "own sign-out" {
			assert.NoError(t, err, name)
		} else {
			inventorytest.RequireKind(t, inventory.NotFound, err)
		}
	}
	h.Pass(2 * time.Minute)
	inventorytest.RequireFields(t, changes["token"](sure), "own_password")

	_, err = h.S.Account.ChangePerson(h.Ctx, later, ben.ID, account.PersonChange{Role: inventory.Manager},
		fixture.Reversed{})
	inventorytest.RequireFields(t, err, "own_password")
	now, err := h.S.Account.Person(h.Ctx, later, ben.ID)
	require.NoError(t, err)
	_, err = h.S.Account.ChangePerson(h.Ctx, later, ben.ID, account.PersonChange{Role: now.Role, Stations: now.Stations,
		Disabled: true}, fixture.Reversed{})
	require.NoError(t, err, "taking access away must be quick")
	require.NoError(t, h.S.Account.RevokeTerminal(h.Ctx, later, spare.ID))
	require.NoError(t, h.S.Account.EndSessions(h.Ctx, later, "Ben", account.AllSessions))
}
