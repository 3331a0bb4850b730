package lists_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestStationNames: every station's name, also of those that are not one's own.
func TestStationNames(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	var nobody inventory.Actor
	names, err := h.S.Lists.StationNames(h.Ctx, fixture.Crew)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"NORTH": "North", "SOUTH": "South"}, names)
	_, err = h.S.Lists.StationNames(h.Ctx, nobody)
	inventorytest.RequireKind(t, inventory.SignedOut, err)
}

// TestPastUsage: by station, item and period, at one's own stations.
func TestPastUsage(t *testing.T) {
	t.Parallel()
	store := storetest.OpenSQLite(t)
	h := fixture.New(t, store)
	rows := []inventory.PastUsage{{Station: "NORTH", Item: "DRESSING", Period: "2027-04", Qty: 7},
		{Station: "NORTH", Item: "DRESSING", Period: "2027-05", Qty: 9}, {Station: "NORTH", Item: "PEN", Period: "2027-04"},
		{Station: "SOUTH", Item: "DRESSING", Period: "2027-04", Qty: 1}}
	require.NoError(t, store.Write(h.Ctx, func(_ context.Context, w inventory.Writer) error {
		for i := range rows {
			if err := w.SetPastUsage(rows[len(rows)-1-i]); err != nil {
				return err
			}
		}
		return nil
	}))
	used := func(by inventory.Actor, f inventory.UsageFilter) []inventory.PastUsage {
		out, err := h.S.Lists.PastUsage(h.Ctx, by, f)
		require.NoError(t, err)
		return out
	}
	north := fixture.Keeper
	north.Stations = []string{"NORTH"}
	assert.Equal(t, rows, used(fixture.Admin, inventory.UsageFilter{}))
	assert.Equal(t, rows[:3], used(north, inventory.UsageFilter{}))
	assert.Equal(t, rows[2:3], used(north, inventory.UsageFilter{Item: "PEN"}))
	for kind, ask := range map[inventory.ErrorKind]struct {
		by       inventory.Actor
		stations []string
	}{
		inventory.Forbidden: {north, []string{"SOUTH"}}, inventory.NotFound: {fixture.Admin, []string{"WEST"}},
	} {
		_, err := h.S.Lists.PastUsage(h.Ctx, ask.by, inventory.UsageFilter{Stations: ask.stations})
		inventorytest.RequireKind(t, kind, err)
	}
	_, err := h.S.Lists.PastUsage(h.Ctx, fixture.Crew, inventory.UsageFilter{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestStationClosesMeanwhile: a receipt that began while the station was open finds it closed, once it may go on.
func TestStationClosesMeanwhile(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		came := make(chan error)
		require.NoError(t, s.Write(h.Ctx, func(_ context.Context, w inventory.Writer) error {
			if err := w.LockStations([]string{"NORTH"}); err != nil {
				return err
			}
			go func() {
				_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
					BatchNo: "A", EndPrinted: "2029-02", Qty: 1})
				came <- err
			}()
			time.Sleep(300 * time.Millisecond) // long enough to be judged, and to wait for the station
			return w.UpdateStation(inventory.Station{Code: "NORTH", ClosedAt: h.Now})
		}))
		err := <-came
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.Contains(t, err.Error(), "station NORTH is closed")
		h.Verify()
	})
}

// TestCloseStation: what happens to people and terminals, and what is in the way.
func TestCloseStation(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Nils Both", inventory.Quartermaster, "four lamps by night", "NORTH", "SOUTH")
	h.Person("Nora Crew", inventory.Crew, "4711", "NORTH")
	h.Receive("DRESSING", "A", 20, "2029-02")
	close := func(by inventory.Actor, code, into string) (lists.StationClosed, error) {
		return h.S.Lists.CloseStation(h.Ctx, by, code, into)
	}
	terminal, err := h.S.Account.AddTerminal(h.Ctx, fixture.Admin, "Garage phone", "NORTH")
	require.NoError(t, err)
	_, err = close(fixture.Keeper, "NORTH", "SOUTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = close(fixture.Admin, "NORTH", "")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	found := fixture.Admin
	found.Session = "left open"
	_, err = close(found, "NORTH", "SOUTH")
	inventorytest.RequireKind(t, inventory.Invalid, err)
	done, err := close(fixture.Admin, "NORTH", "SOUTH")
	require.NoError(t, err)
	assert.Equal(t, []any{20, []string{"N-01", "N-02", "N-BELT", "N-REPAIR", "T-01"}, []string{"Garage phone"}},
		[]any{done.Units, done.Places, done.Terminals})
	assert.Equal(t, []string{"Nora Crew"}, done.People)
	people, err := h.S.Account.People(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	for _, p := range people {
		if slices.Contains(p.Stations, "NORTH") {
			assert.Contains(t, p.Stations, "SOUTH", p.Name)
		}
	}
	_, err = h.S.Account.EnrolHere(h.Ctx, fixture.Admin, terminal.ID)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Account.AddTerminal(h.Ctx, fixture.Admin, "Other phone", "NORTH")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Lists.ReopenStation(h.Ctx, fixture.Admin, "SOUTH")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Lists.ReopenStation(h.Ctx, fixture.Admin, "WEST")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Lists.ReopenStation(h.Ctx, found, "NORTH")
	inventorytest.RequireKind(t, inventory.Invalid, err)
	_, err = h.S.Lists.ReopenStation(h.Ctx, fixture.Admin, "NORTH")
	require.NoError(t, err)
	h.Verify()
}
