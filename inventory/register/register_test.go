package register_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
)

// north is a quartermaster of one station.
var north = inventory.Actor{Name: "Quinn", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}

// dispensed is a house in which NORTH has 6 ampoules in its store, 3 in bag N-01
// and used one of them alone.
func dispensed(t *testing.T, s inventory.Store) (h *fixture.House, used inventory.Movement) {
	h = fixture.NewDispensary(t, s)
	lot := h.ReceiveAmps(10)
	h.Pass(time.Minute)
	stowed := h.Amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Pass(time.Minute)
	ms, err := h.S.Register.RecordEntry(h.Ctx, fixture.Keeper, register.EntryRequest{Kind: register.RequestUse,
		Place: "N-01", Reference: "I-1", Lines: []register.EntryRequestLine{{LotID: stowed.IntoLotID, Qty: 1}}})
	require.NoError(t, err)
	return h, ms[0]
}

// TestRegisters: the pages of the actor's stations by station, place and item,
// with balance and what is owed, narrowed by item and place.
func TestRegisters(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h, _ := dispensed(t, s)
		pages := func(by inventory.Actor, f register.RegisterFilter) []string {
			all, err := h.S.Register.Registers(h.Ctx, by, f)
			require.NoError(t, err)
			out := []string{}
			for _, p := range all {
				assert.Empty(t, p.Entries)
				out = append(out, fmt.Sprintf("%s %s %s: %d, owed %d", p.Station, p.Place, p.Item, p.Balance, p.Owed))
			}
			return out
		}
		all := []string{"NORTH N-01 AMP: 3, owed 1", "NORTH NORTH-STORE AMP: 6, owed 0"}
		assert.Equal(t, all, pages(fixture.Keeper, register.RegisterFilter{}))
		assert.Equal(t, all[1:], pages(north, register.RegisterFilter{Place: "NORTH-STORE", Item: "AMP"}))
		assert.Empty(t, pages(north, register.RegisterFilter{Item: "PEN"}))
		assert.Empty(t, pages(fixture.Keeper, register.RegisterFilter{Stations: []string{"SOUTH"}}))
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0, ledger.BagChange{
			AtStation: inventorytest.Ptr("SOUTH")})
		require.NoError(t, err)
		assert.Equal(t, []string{"SOUTH N-01 AMP: 3, owed 1"}, pages(fixture.Keeper, register.RegisterFilter{
			Stations: []string{"SOUTH"}}), "where it is")
		assert.Len(t, pages(north, register.RegisterFilter{}), 2, "and where it belongs")
		for kind, f := range map[inventory.ErrorKind]register.RegisterFilter{
			inventory.Forbidden: {Stations: []string{"SOUTH"}}, inventory.NotFound: {Place: "NOWHERE"},
		} {
			_, err := h.S.Register.Registers(h.Ctx, north, f)
			inventorytest.RequireKind(t, kind, err)
		}
	})
}

// TestAtStations: registers and what is owed, station by station.
func TestAtStations(t *testing.T) {
	t.Parallel()
	h, used := dispensed(t, storetest.OpenSQLite(t))
	all, err := h.S.Register.AtStations(h.Ctx, fixture.Keeper, nil)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []string{"NORTH", "SOUTH"}, []string{all[0].Station, all[1].Station})
	require.Len(t, all[0].Pages, 2)
	assert.Equal(t, "N-01", all[0].Pages[0].Place)
	require.Len(t, all[0].Owed, 1)
	assert.Equal(t, used.ID, all[0].Owed[0].Entry)
	assert.Empty(t, all[1].Pages)
	assert.Empty(t, all[1].Owed)
	one, err := h.S.Register.AtStations(h.Ctx, north, nil)
	require.NoError(t, err)
	assert.Equal(t, all[:1], one)
	_, err = h.S.Register.AtStations(h.Ctx, north, []string{"SOUTH"})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Register.AtStations(h.Ctx, fixture.Admin, []string{"WEST"})
	inventorytest.RequireKind(t, inventory.NotFound, err)
}

// TestOwed: an entry that one person recorded alone is shown with what it owes,
// also once everything is signed.
func TestOwed(t *testing.T) {
	t.Parallel()
	h, used := dispensed(t, storetest.OpenSQLite(t))
	row, err := h.S.Register.Owed(h.Ctx, fixture.Crew, used.ID)
	require.NoError(t, err)
	assert.Equal(t, register.OwedRow{Entry: used.ID, Item: "AMP", Name: "Controlled ampoule", Place: "N-01",
		Station: "NORTH", Qty: 1, HappenedAt: h.Now, By: "Quinn", Reference: "I-1", OwnOwed: true, SecondOwed: true}, row)
	_, err = h.S.Register.Owed(h.Ctx, fixture.Crew, used.ID-1)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	south := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
	_, err = h.S.Register.Owed(h.Ctx, south, used.ID)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	for _, name := range []string{"Quinn", "Wil"} {
		by, err := h.S.Account.SignAlone(h.Ctx, fixture.Keeper, *fixture.Signing(name, "").Signature, fixture.Reversed{})
		require.NoError(t, err)
		_, err = h.S.Register.SignEntry(h.Ctx, by, used.ID)
		require.NoError(t, err)
	}
	row, err = h.S.Register.Owed(h.Ctx, fixture.Crew, used.ID)
	require.NoError(t, err)
	assert.False(t, row.OwnOwed || row.SecondOwed)
}

// TestStockOf: the lots of one controlled item in a place, and of no other.
func TestStockOf(t *testing.T) {
	t.Parallel()
	h, _ := dispensed(t, storetest.OpenSQLite(t))
	h.Receive("PEN", "P", 3, "")
	lots, err := h.S.Register.StockOf(h.Ctx, fixture.Crew, " amp", "north-store")
	require.NoError(t, err)
	require.Len(t, lots, 1)
	assert.Equal(t, []any{"AMP", 6}, []any{lots[0].Item, lots[0].Where[0].Qty})
	_, err = h.S.Register.StockOf(h.Ctx, fixture.Crew, "PEN", "NORTH-STORE")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Register.StockOf(h.Ctx, fixture.Crew, "AMP", "SOUTH-STORE")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestRegisterKept: so many years as the owner says, two where nobody does.
func TestRegisterKept(t *testing.T) {
	s := storetest.OpenSQLite(t)
	for years, want := range map[int]int{0: register.RegisterYears, 7: 7} {
		all := services.New(s, func() inventory.Instant { return inventorytest.Noon },
			services.Options{KeepRegisters: years})
		assert.Equal(t, want, all.Register.RegisterKept())
	}
	assert.Equal(t, 2, register.RegisterYears)
}
