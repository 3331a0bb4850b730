package history_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestHistoryNames: people and programs by name, those of one's own stations
// and of all, and everybody for who keeps people.
func TestHistoryNames(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Zoe", inventory.Crew, "4821", "NORTH")
	h.Person("Sol", inventory.Crew, "7093", "SOUTH")
	h.Person("Mo", inventory.Manager, "nine doors by the sea")
	for name, station := range map[string]string{"board": "NORTH", "scales": "SOUTH"} {
		_, err := h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: name, Role: inventory.Manager,
			Stations: []string{station}})
		require.NoError(t, err)
	}
	north := fixture.Keeper
	north.Stations = []string{"NORTH"}
	for by, want := range map[*inventory.Actor][]string{
		&north: {"Mo", "Zoe", "board"}, &fixture.Admin: {"Mo", "Sol", "Zoe", "board", "scales"},
	} {
		names, err := h.S.History.HistoryNames(h.Ctx, *by)
		require.NoError(t, err)
		assert.Equal(t, want, names, by.Name)
	}
	_, err := h.S.History.HistoryNames(h.Ctx, fixture.Crew)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}
