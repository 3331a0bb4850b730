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

// TestTerminals: terminals are listed by id, also those that were revoked, and
// a cookie is worth its terminal for as long as that is in use.
func TestTerminals(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	desk, belt := h.Enrolled("desk", "NORTH"), h.Enrolled("belt", "")
	_, err := h.S.Account.Terminals(h.Ctx, fixture.Keeper)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	all, err := h.S.Account.Terminals(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []string{"desk", "NORTH", "belt", ""}, []string{all[0].Name, all[0].Station, all[1].Name,
		all[1].Station})
	require.NoError(t, h.S.Account.RevokeTerminal(h.Ctx, fixture.Admin, all[0].ID))
	for cookie, want := range map[string]int64{desk: 0, belt: all[1].ID, "": 0, "nonsense": 0} {
		got, err := h.S.Account.TerminalOf(h.Ctx, cookie)
		require.NoError(t, err, "it never refuses")
		assert.Equal(t, want, got.ID)
	}
	h.Person("Kim", inventory.Crew, "4711", "NORTH")
	for cookie, told := range map[string]bool{desk: false, belt: true, "": false, "nonsense": false} {
		names, err := h.S.Account.NamesHere(h.Ctx, cookie)
		require.NoError(t, err, "it never refuses")
		assert.Equal(t, told, len(names) > 0, "names are for enrolled terminals")
		names, err = h.S.Account.NamesHere(h.Ctx, cookie, "no such station")
		require.NoError(t, err)
		assert.Empty(t, names)
	}
	all, err = h.S.Account.Terminals(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	assert.Equal(t, []inventory.Instant{h.Now, 0}, []inventory.Instant{all[0].RevokedAt, all[1].RevokedAt})
}

// TestLookAtWelcome: a welcome link can be looked at until it is used, ends, or
// somebody can let people in.
func TestLookAtWelcome(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	link, err := h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	require.NoError(t, h.S.Account.LookAtWelcome(h.Ctx, link))
	require.NoError(t, h.S.Account.LookAtWelcome(h.Ctx, link), "looking uses nothing up")
	inventorytest.RequireKind(t, inventory.NotFound, h.S.Account.LookAtWelcome(h.Ctx, "another"))
	h.Pass(account.WelcomeLife + time.Second)
	inventorytest.RequireKind(t, inventory.NotFound, h.S.Account.LookAtWelcome(h.Ctx, link))
	link, err = h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	h.Person("Ada", inventory.Administrator, "seven lamps at dusk")
	inventorytest.RequireKind(t, inventory.NotFound, h.S.Account.LookAtWelcome(h.Ctx, link))
}
