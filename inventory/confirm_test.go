package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/store/storetest"
)

// TestWhoGetsInIsConfirmed: an administrator who is signed in changes who gets
// in only after typing their password once more, within a minute of it; taking
// access away asks for nothing, and programs have no session to be found open.
func TestWhoGetsInIsConfirmed(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Ada", inventory.Administrator, "seven lamps at dusk")
	ben := h.person("Ben", inventory.Manager, "eight boats at noon")
	spare, err := h.s.Account.AddTerminal(h.ctx, admin, "spare", "")
	require.NoError(t, err)
	cookie, err := h.signIn("Ada", "seven lamps at dusk")
	require.NoError(t, err)
	ada, err := h.s.Account.SessionActor(h.ctx, cookie)
	require.NoError(t, err)
	n := 0
	changes := map[string]func(by inventory.Actor) error{
		"person added": func(by inventory.Actor) error {
			n++
			_, err := h.s.Account.CreatePerson(h.ctx, by, inventory.Person{Name: "New " + string(rune('A'+n)),
				Role: inventory.Manager}, "nine doors by the sea", reversed{})
			return err
		},
		"role": func(by inventory.Actor) error {
			_, err := h.s.Account.ChangePerson(h.ctx, by, ben.ID, account.PersonChange{Role: inventory.Quartermaster},
				reversed{})
			return err
		},
		"stations": func(by inventory.Actor) error {
			_, err := h.s.Account.ChangePerson(h.ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager,
				Stations: []string{"NORTH"}}, reversed{})
			return err
		},
		"secret and end": func(by inventory.Actor) error {
			_, err := h.s.Account.ChangePerson(h.ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager,
				Stations: []string{"NORTH"}, Disabled: true, Secret: "ten gulls in a row"}, reversed{})
			return err
		},
		"let in again": func(by inventory.Actor) error {
			_, err := h.s.Account.ChangePerson(h.ctx, by, ben.ID, account.PersonChange{Role: inventory.Manager}, reversed{})
			return err
		},
		"token": func(by inventory.Actor) error {
			n++
			_, err := h.s.Account.CreateToken(h.ctx, by, inventory.Token{Name: "till " + string(rune('A'+n)),
				Role: inventory.Manager})
			return err
		},
		"terminal here": func(by inventory.Actor) error { _, err := h.s.Account.EnrolHere(h.ctx, by, spare.ID); return err },
		"terminal link": func(by inventory.Actor) error { _, err := h.s.Account.EnrolLink(h.ctx, by, spare.ID); return err },
		"own sign-out":  func(by inventory.Actor) error { return h.s.Account.EndSessions(h.ctx, by, "Ada", "no such") },
	}
	for _, change := range changes {
		requireFields(t, change(ada), "own_password")
	}
	for _, wrong := range []string{"", "eight boats at noon"} {
		_, fresh, err := h.s.Account.Confirm(h.ctx, ada, cookie, wrong, reversed{})
		requireFields(t, err, "own_password")
		require.Empty(t, fresh)
	}
	sure, fresh, err := h.s.Account.Confirm(h.ctx, ada, cookie, "seven lamps at dusk", reversed{})
	require.NoError(t, err)
	_, err = h.s.Account.SessionActor(h.ctx, cookie)
	requireKind(t, inventory.SignedOut, err)
	later, err := h.s.Account.SessionActor(h.ctx, fresh)
	require.NoError(t, err, "another session took its place")
	requireFields(t, changes["token"](later), "own_password")
	for name, change := range changes {
		if err := change(sure); name != "own sign-out" {
			assert.NoError(t, err, name)
		} else {
			requireKind(t, inventory.NotFound, err)
		}
	}
	h.pass(2 * time.Minute)
	requireFields(t, changes["token"](sure), "own_password")

	_, err = h.s.Account.ChangePerson(h.ctx, later, ben.ID, account.PersonChange{Role: inventory.Manager}, reversed{})
	requireFields(t, err, "own_password")
	now, err := h.s.Account.Person(h.ctx, later, ben.ID)
	require.NoError(t, err)
	_, err = h.s.Account.ChangePerson(h.ctx, later, ben.ID, account.PersonChange{Role: now.Role, Stations: now.Stations,
		Disabled: true}, reversed{})
	require.NoError(t, err, "taking access away must be quick")
	require.NoError(t, h.s.Account.RevokeTerminal(h.ctx, later, spare.ID))
	require.NoError(t, h.s.Account.EndSessions(h.ctx, later, "Ben", account.AllSessions))
}
