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

// TestCalendarKeys: who keeps a station's lists makes keys of its calendar, lists and revokes them; a key opens that
// calendar only, with no more than its maker has, and one that is no good says nothing.
func TestCalendarKeys(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	s := h.S.Account
	keeper := fixture.Keeper
	keeper.Stations = []string{"NORTH"}
	for _, by := range []inventory.Actor{fixture.Crew, fixture.Manager} {
		_, err := s.CreateCalendarKey(h.Ctx, by, "NORTH")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = s.CalendarKeys(h.Ctx, by, "NORTH")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	}
	_, err := s.CreateCalendarKey(h.Ctx, keeper, "SOUTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = s.CalendarKeys(h.Ctx, keeper, "SOUTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	found := keeper
	found.Session = "left open"
	_, err = s.CreateCalendarKey(h.Ctx, found, "NORTH")
	inventorytest.RequireKind(t, inventory.Invalid, err)
	_, err = s.CreateCalendarKey(h.Ctx, fixture.Admin, "WEST")
	inventorytest.RequireKind(t, inventory.Invalid, err)

	key, err := s.CreateCalendarKey(h.Ctx, keeper, "NORTH")
	require.NoError(t, err)
	second, err := s.CreateCalendarKey(h.Ctx, fixture.Admin, "NORTH")
	require.NoError(t, err)
	_, err = s.CreateCalendarKey(h.Ctx, fixture.Admin, "SOUTH")
	require.NoError(t, err)
	keys, err := s.CalendarKeys(h.Ctx, keeper, "NORTH")
	require.NoError(t, err)
	require.Len(t, keys, 2)
	assert.Equal(t, []any{"Calendar NORTH 1", "Quinn", h.Now, h.Now.Add(account.TokenLife)},
		[]any{keys[0].Name, keys[0].CreatedBy, keys[0].CreatedAt, keys[0].EndsAt})

	by, err := s.CalendarActor(h.Ctx, key)
	require.NoError(t, err)
	assert.Equal(t, inventory.Actor{Name: "Calendar NORTH 1", Role: inventory.Crew, Stations: []string{"NORTH"},
		Scope: []inventory.Action{inventory.ActSee}, EndsAt: h.Now.Add(account.TokenLife), Program: true, From: "API"}, by)
	_, err = s.TokenActor(h.Ctx, key)
	inventorytest.RequireKind(t, inventory.SignedOut, err)

	token, err := s.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: "narrow", Role: inventory.Quartermaster,
		Stations: []string{"NORTH"}, Scope: []inventory.Action{inventory.ActKeepLists}})
	require.NoError(t, err)
	narrow, err := s.TokenActor(h.Ctx, token)
	require.NoError(t, err)
	_, err = s.CreateCalendarKey(h.Ctx, narrow, "NORTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err) // which may not see
	narrow.Scope, narrow.EndsAt = append(narrow.Scope, inventory.ActSee), h.Now.Add(time.Hour)
	short, err := s.CreateCalendarKey(h.Ctx, narrow, "NORTH")
	require.NoError(t, err)

	_, err = s.RevokeCalendarKey(h.Ctx, keeper, "SOUTH", keys[0].ID)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	all, err := s.Tokens(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	for _, other := range all {
		if other.Name == "narrow" || other.Name == "Calendar SOUTH 1" {
			_, err = s.RevokeCalendarKey(h.Ctx, keeper, "NORTH", other.ID)
			inventorytest.RequireKind(t, inventory.NotFound, err)
		}
	}
	_, err = s.RevokeCalendarKey(h.Ctx, keeper, "NORTH", keys[0].ID)
	require.NoError(t, err)
	_, err = s.RevokeCalendarKey(h.Ctx, keeper, "NORTH", keys[0].ID)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	h.Pass(2 * time.Hour)
	for _, wrong := range []string{key, short, token, "", "cal_", "cal_NOBODY"} {
		_, err = s.CalendarActor(h.Ctx, wrong)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		assert.Equal(t, "not_found: not found", err.Error())
	}
	_, err = s.CalendarActor(h.Ctx, second)
	require.NoError(t, err)
	keys, err = s.CalendarKeys(h.Ctx, keeper, "NORTH")
	require.NoError(t, err)
	assert.Len(t, keys, 1, "those that let a calendar in")
}
