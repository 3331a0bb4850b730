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
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestIdleLimit: a terminal locks as its station says, one of all stations as the strictest of the person's does.
func TestIdleLimit(t *testing.T) {
	t.Parallel()
	stations := []inventory.Station{{Code: "A", LockMinutes: 5}, {Code: "B", LockMinutes: 2}, {Code: "C"}}
	for _, c := range []struct {
		terminal string
		of       []string
		want     time.Duration
	}{
		{"A", []string{"A", "B"}, 5 * time.Minute},
		{"B", []string{"A"}, 2 * time.Minute},
		{"C", []string{"A"}, account.SessionIdle},
		{"", []string{"A", "C"}, 5 * time.Minute},
		{"", []string{"A", "B"}, 2 * time.Minute},
		{"", []string{"C"}, account.SessionIdle},
		{"", nil, 2 * time.Minute},
	} {
		got := account.IdleLimit(inventory.Terminal{Station: c.terminal}, inventory.Person{Stations: c.of}, stations)
		assert.Equal(t, c.want, got, "%+v", c)
	}
}

// TestIdleLock: a session on a shared phone ends when it lay unused for as long as the station says, and is listed no
// more; use keeps it, and one from another browser stays.
func TestIdleLock(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Kim", inventory.Crew, "4711", "NORTH")
	five := 5
	_, err := h.S.Lists.ChangeStation(h.Ctx, fixture.Keeper, "NORTH", lists.StationSettings{LockMinutes: &five,
		NightVehicles: []string{" Van  2 "}})
	require.NoError(t, err)
	cookie, err := h.SignIn("Kim", "4711")
	require.NoError(t, err)
	for range 4 {
		h.Pass(4 * time.Minute)
		by, err := h.S.Account.SessionActor(h.Ctx, cookie)
		require.NoError(t, err)
		assert.Equal(t, 5, by.LockMinutes)
	}
	h.Pass(5*time.Minute + time.Second)
	_, err = h.S.Account.SessionActor(h.Ctx, cookie)
	inventorytest.RequireKind(t, inventory.SignedOut, err)
	open, err := h.S.Account.Sessions(h.Ctx, fixture.Admin, "Kim")
	require.NoError(t, err)
	assert.Empty(t, open)

	_, err = h.S.Lists.ChangeStation(h.Ctx, fixture.Keeper, "NOWHERE", lists.StationSettings{})
	require.Error(t, err)
	long := inventory.MaxLock + 1
	_, err = h.S.Lists.ChangeStation(h.Ctx, fixture.Keeper, "NORTH", lists.StationSettings{LockMinutes: &long})
	inventorytest.RequireKind(t, inventory.Invalid, err)
	is, err := h.S.Lists.ChangeStation(h.Ctx, fixture.Keeper, "NORTH", lists.StationSettings{})
	require.NoError(t, err)
	assert.Equal(t, []any{5, []string{"Van 2"}}, []any{is.LockMinutes, is.NightVehicles}, "what is left out stays")
	h.Verify()
}
