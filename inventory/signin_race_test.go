package inventory_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/store/storetest"
)

// whileMatching runs something each time a secret is compared.
type whileMatching struct {
	reversed
	do func()
}

func (m whileMatching) Match(hash, secret string) bool {
	m.do()
	return m.reversed.Match(hash, secret)
}

// TestWrongSecretsSideBySide: wrong tries made at the same time all count.
func TestWrongSecretsSideBySide(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		h.person("Cleo", inventory.Crew, "4821", "NORTH")
		h.tablet()
		var ready, done sync.WaitGroup
		ready.Add(account.FreeAttempts)
		together := whileMatching{do: func() { ready.Done(); ready.Wait() }} // none is counted before all were compared
		for range account.FreeAttempts {
			done.Go(func() {
				_, err := h.s.Account.SignIn(h.ctx, "Cleo", "0000", h.tablet(), together)
				assert.Equal(t, inventory.SignedOut, inventory.KindOf(err), "%v", err)
			})
		}
		done.Wait()
		_, err := h.signIn("Cleo", "4821")
		requireKind(t, inventory.TooMany, err)
	})
}

// TestSecretsAreComparedOutside: comparing a secret, which takes its time,
// keeps nobody from writing; and what changed meanwhile holds.
func TestSecretsAreComparedOutside(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		h.person("Cleo", inventory.Crew, "4821", "NORTH")
		ctx, cancel := context.WithTimeout(h.ctx, 10*time.Second)
		defer cancel()
		disable := whileMatching{do: func() { assert.NoError(t, h.s.Account.DisablePerson(ctx, admin, "Cleo")) }}
		_, err := h.s.Account.SignIn(h.ctx, "Cleo", "4821", h.tablet(), disable)
		requireKind(t, inventory.SignedOut, err)
		people, err := h.s.Account.People(h.ctx, admin)
		require.NoError(t, err)
		assert.True(t, people[0].Disabled, "signing in does not undo it")

		h.person("Dee", inventory.Crew, "4821", "NORTH")
		change := whileMatching{do: func() {
			assert.NoError(t, s.Write(ctx, func(_ context.Context, w inventory.Writer) error {
				p, err := w.PersonByName("Dee")
				assert.NoError(t, err)
				p.SecretHash = "hash:7350"
				return w.UpdatePerson(p)
			}))
		}}
		_, err = h.s.Account.SignIn(h.ctx, "Dee", "4821", h.tablet(), change)
		requireKind(t, inventory.SignedOut, err)
		_, err = h.signIn("Dee", "7350")
		require.NoError(t, err)
	})
}

// TestNamesAreOfOne: a person and a program never have the same name, nor do
// two programs.
func TestNamesAreOfOne(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		token := func(name string) error {
			_, err := h.s.Account.CreateToken(h.ctx, admin, inventory.Token{Name: name, Role: inventory.Manager})
			return err
		}
		h.person("Jörg", inventory.Crew, "4821", "NORTH")
		requireKind(t, inventory.Conflict, token(" jÖRG "))
		require.NoError(t, token("Till  One"))
		requireKind(t, inventory.Conflict, token("till one"))
		_, err := h.s.Account.CreatePerson(h.ctx, admin, inventory.Person{Name: "TILL ONE", Role: inventory.Crew,
			Stations: []string{"NORTH"}}, "4821", reversed{})
		requireKind(t, inventory.Conflict, err)
	})
}

// TestPrincipals: a person and a program of one name, from before names were
// of one only, do not share keys.
func TestPrincipals(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	program := crew
	program.Program = true
	assert.NotEqual(t, crew.Principal(), program.Principal())
	b := h.bag("N-01")
	for _, by := range []inventory.Actor{crew, program} {
		c, err := h.s.Shift.RecordCheck(h.ctx, by, sealCheck(b.Position, "101"), "key-1")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
	}
}
