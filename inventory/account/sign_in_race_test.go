package account_test

import (
	"context"
	"sync"
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

// whileMatching runs something each time a secret is compared.
type whileMatching struct {
	fixture.Reversed
	do func()
}

func (m whileMatching) Match(hash, secret string) bool {
	m.do()
	return m.Reversed.Match(hash, secret)
}

// TestWrongSecretsSideBySide: wrong tries made at the same time all count.
func TestWrongSecretsSideBySide(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Person("Cleo", inventory.Crew, "4821", "NORTH")
		h.Tablet()
		var ready, done sync.WaitGroup
		ready.Add(account.FreeAttempts)
		together := whileMatching{do: func() { ready.Done(); ready.Wait() }} // none is counted before all were compared
		for range account.FreeAttempts {
			done.Go(func() {
				_, err := h.S.Account.SignIn(h.Ctx, "Cleo", "0000", h.Tablet(), together)
				assert.Equal(t, inventory.SignedOut, inventory.KindOf(err), "%v", err)
			})
		}
		done.Wait()
		_, err := h.SignIn("Cleo", "4821")
		inventorytest.RequireKind(t, inventory.TooMany, err)
	})
}

// TestSecretsAreComparedOutside: comparing a secret, which takes its time,
// keeps nobody from writing; and what changed meanwhile holds.
func TestSecretsAreComparedOutside(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Person("Cleo", inventory.Crew, "4821", "NORTH")
		ctx, cancel := context.WithTimeout(h.Ctx, 10*time.Second)
		defer cancel()
		disable := whileMatching{do: func() { assert.NoError(t, h.S.Account.DisablePerson(ctx, fixture.Admin, "Cleo")) }}
		_, err := h.S.Account.SignIn(h.Ctx, "Cleo", "4821", h.Tablet(), disable)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		people, err := h.S.Account.People(h.Ctx, fixture.Admin)
		require.NoError(t, err)
		assert.True(t, people[0].Disabled, "signing in does not undo it")

		h.Person("Dee", inventory.Crew, "4821", "NORTH")
		change := whileMatching{do: func() {
			assert.NoError(t, s.Write(ctx, func(_ context.Context, w inventory.Writer) error {
				p, err := w.PersonByName("Dee")
				assert.NoError(t, err)
				p.SecretHash = "hash:7350"
				return w.UpdatePerson(p)
			}))
		}}
		_, err = h.S.Account.SignIn(h.Ctx, "Dee", "4821", h.Tablet(), change)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.SignIn("Dee", "7350")
		require.NoError(t, err)
	})
}

// TestNamesAreOfOne: a person and a program never have the same name, nor do
// two programs.
func TestNamesAreOfOne(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		token := func(name string) error {
			_, err := h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: name, Role: inventory.Manager})
			return err
		}
		h.Person("Jörg", inventory.Crew, "4821", "NORTH")
		inventorytest.RequireKind(t, inventory.Conflict, token(" jÖRG "))
		require.NoError(t, token("Till  One"))
		inventorytest.RequireKind(t, inventory.Conflict, token("till one"))
		_, err := h.S.Account.CreatePerson(h.Ctx, fixture.Admin, inventory.Person{Name: "TILL ONE", Role: inventory.Crew,
			Stations: []string{"NORTH"}}, "4821", fixture.Reversed{})
		inventorytest.RequireKind(t, inventory.Conflict, err)
	})
}

// TestPrincipals: a person and a program of one name, from before names were
// of one only, do not share keys.
func TestPrincipals(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	program := fixture.Crew
	program.Program = true
	assert.NotEqual(t, fixture.Crew.Principal(), program.Principal())
	b := h.Bag("N-01")
	for _, by := range []inventory.Actor{fixture.Crew, program} {
		c, err := h.S.Shift.RecordCheck(h.Ctx, by, fixture.SealCheck(b.Position, "101"), "key-1")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
	}
}
