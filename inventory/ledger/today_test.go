package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
)

// TestTodayAtFirst: the day at the first station that is named, at the first
// of all where none is, and by UTC where there is none.
func TestTodayAtFirst(t *testing.T) {
	t.Parallel()
	empty := storetest.OpenSQLite(t)
	late := inventorytest.At("2027-06-14T23:30:00Z") // the 15th in London and in Auckland
	today := func(s inventory.Store, stations ...string) string {
		svc := services.New(s, func() inventory.Instant { return late }, services.Options{})
		day, err := inventory.Read(t.Context(), s, func(r inventory.Reader) (inventory.Day, error) {
			return svc.Ledger.TodayAtFirst(r, stations)
		})
		require.NoError(t, err)
		return day.String()
	}
	assert.Equal(t, "2027-06-14", today(empty), "no station: UTC")
	store := storetest.OpenSQLite(t)
	fixture.New(t, store)
	assert.Equal(t, "2027-06-15", today(store))
	late = inventorytest.At("2027-06-14T13:00:00Z") // still the 14th in London
	assert.Equal(t, "2027-06-14", today(store), "NORTH is the first")
	assert.Equal(t, "2027-06-15", today(store, "SOUTH", "NORTH"))
}
