package lists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestBagLog: what people changed of a bag is told newest first, with who, when
// and why, and page by page.
func TestBagLog(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		change := func(by inventory.Actor, ch ledger.BagChange) {
			_, err := h.S.Lists.UpdateBag(h.Ctx, by, "N-01", 0, ch)
			require.NoError(t, err)
			h.Pass(time.Minute)
		}
		start := h.Now
		change(fixture.Keeper, ledger.BagChange{Vehicle: inventorytest.Ptr("Van 2")})
		change(fixture.Crew, ledger.BagChange{OutOfService: inventorytest.Ptr("zip torn")})
		change(fixture.Keeper, ledger.BagChange{OutOfService: inventorytest.Ptr("")})
		change(fixture.Keeper, ledger.BagChange{Name: inventorytest.Ptr("First")}) // the history tells it, not this log
		log, err := h.S.Lists.BagLog(h.Ctx, fixture.Crew, " n-01", inventory.Page{})
		require.NoError(t, err)
		for i := range log {
			log[i].ID = 0
		}
		assert.Equal(t, []inventory.BagLogEntry{
			{Bag: "N-01", RecordedAt: start.Add(2 * time.Minute), By: "Quinn", Kind: history.LoggedReturned},
			{Bag: "N-01", RecordedAt: start.Add(time.Minute), By: "Cleo", Kind: history.LoggedOutOfService, Reason: "zip torn"},
			{Bag: "N-01", RecordedAt: start, By: "Quinn", Kind: history.LoggedVehicle, New: "Van 2"},
		}, log)
		one, err := h.S.Lists.BagLog(h.Ctx, fixture.Crew, "N-01", inventory.Page{Limit: 1})
		require.NoError(t, err)
		assert.Len(t, one, 1)
		_, err = h.S.Lists.BagLog(h.Ctx, fixture.Crew, "S-01", inventory.Page{})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.BagLog(h.Ctx, fixture.Crew, "N-99", inventory.Page{})
		inventorytest.RequireKind(t, inventory.NotFound, err)
	})
}

// TestLent: a bag that is elsewhere is listed for its owner and for where it
// is, and for nobody else; one that came home is not.
func TestLent(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	third := inventory.Station{Code: "WEST", Name: "West", Timezone: "UTC"}
	_, err := h.S.Lists.CreateStation(h.Ctx, fixture.Admin, third)
	require.NoError(t, err)
	move := func(bag, to string) {
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, bag, 0, ledger.BagChange{AtStation: &to})
		require.NoError(t, err)
	}
	move("N-02", "SOUTH")
	move("N-01", "SOUTH")
	move("S-01", "WEST")
	lent := func(by inventory.Actor, stations ...string) []string {
		all, err := h.S.Lists.Lent(h.Ctx, by, stations)
		require.NoError(t, err)
		codes := []string{}
		for _, b := range all {
			codes = append(codes, b.Code)
		}
		return codes
	}
	assert.Equal(t, []string{"N-01", "N-02"}, lent(fixture.Crew), "those of NORTH")
	assert.Equal(t, []string{"N-01", "N-02", "S-01"}, lent(fixture.Keeper, "SOUTH"), "those at SOUTH and those of it")
	assert.Equal(t, []string{"S-01"}, lent(fixture.Admin, "WEST"))
	move("N-01", "NORTH")
	assert.Equal(t, []string{"N-02"}, lent(fixture.Crew))
	_, err = h.S.Lists.Lent(h.Ctx, fixture.Crew, []string{"SOUTH"})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}
