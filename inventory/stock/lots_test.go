package stock_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestLotElsewhere: a lot of which no unit is or was at one's own stations is
// no lot to ask for.
func TestLotElsewhere(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		south := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
		lot := func(by inventory.Actor, id int64) error { _, err := h.S.Stock.Lot(h.Ctx, by, id); return err }
		inventorytest.RequireKind(t, inventory.NotFound, lot(south, h.Dressings.ID))
		require.NoError(t, lot(fixture.Crew, h.Dressings.ID))
		require.NoError(t, lot(fixture.Manager, h.Dressings.ID))
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		require.NoError(t, lot(south, h.Dressings.ID))
		h.Move(h.Dressings.ID, 1, "SOUTH-STORE", "used", inventory.ReasonUsed)
		require.NoError(t, lot(south, h.Dressings.ID), "it was there")
		inventorytest.RequireKind(t, inventory.NotFound, lot(south, h.Pens.ID))
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0,
			ledger.BagChange{AtStation: inventorytest.Ptr("SOUTH")})
		require.NoError(t, err)
		require.NoError(t, lot(south, h.Pens.ID), "it came in a bag that was lent")
	})
}

// TestLotsAsOf: the dates of lots that ride exposed are worked out for the day
// asked about.
func TestLotsAsOf(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("GAUZE", "G1", 2, "2029-01")
		on := h.Move(lot.ID, 2, "NORTH-STORE", "N-BELT", inventory.ReasonStow).IntoLotID
		now, err := h.S.Stock.Lot(h.Ctx, fixture.Crew, on)
		require.NoError(t, err)
		h.Move(on, 1, "N-BELT", "NORTH-STORE", inventory.ReasonReturn)
		assert.Equal(t, inventory.EndRule("exposed"), now.Rule)
		for _, asOf := range []string{"2027-06-14", "2027-06-20", "2027-09-01"} {
			one, err := h.S.Stock.LotAsOf(h.Ctx, fixture.Crew, on, inventorytest.Day(asOf))
			require.NoError(t, err)
			all, err := h.S.Stock.Lots(h.Ctx, fixture.Crew, inventory.LotFilter{Place: "N-BELT", AsOf: inventorytest.Day(asOf)},
				0, inventory.Page{})
			require.NoError(t, err)
			require.Len(t, all, 1)
			want := inventory.Ends(fixture.HouseItems[1], one.Lot, inventorytest.Day(asOf))
			assert.Equal(t, want, one.Ends)
			assert.Equal(t, want, all[0].Ends)
		}
	})
}

func TestLotsPages(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, end := range []string{"2028-01", "2027-08", "2028-02", "2027-09"} {
		h.Receive("DRESSING", "B"+end, 1, end)
	}
	lots, err := h.S.Stock.Lots(h.Ctx, fixture.Keeper, inventory.LotFilter{Item: "DRESSING"},
		inventorytest.Day("2028-01-01"),
		inventory.Page{Limit: 2})
	require.NoError(t, err)
	require.Len(t, lots, 2)
	assert.Equal(t, []string{"2027-08-31", "2027-09-30"}, []string{lots[0].UsableThrough.String(),
		lots[1].UsableThrough.String()})
	slices.SortFunc(lots, func(a, b stock.LotSummary) int { return stock.ComparePickOrder(b, a) })
	assert.Equal(t, "2027-09-30", lots[0].UsableThrough.String())
	_, err = h.S.Stock.Lot(h.Ctx, fixture.Keeper, 99)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Stock.StockAt(h.Ctx, fixture.Crew, "SOUTH-STORE")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	story, err := h.S.Stock.Lot(h.Ctx, fixture.Crew, lots[0].ID)
	require.NoError(t, err)
	assert.Empty(t, story.History, "crew do not read the movements")
}

// TestSummaries: lots keep their order, have their dates as of the day that is
// asked for, and only what lies at the stations that are named.
func TestSummaries(t *testing.T) {
	t.Parallel()
	store := storetest.OpenSQLite(t)
	h := fixture.NewStowed(t, store)
	h.Move(h.Dressings.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	summaries := func(stations []string, lots ...inventory.Lot) []stock.LotSummary {
		out, err := inventory.Read(h.Ctx, store, func(r inventory.Reader) ([]stock.LotSummary, error) {
			return h.S.Stock.Summaries(r, lots, stations, 0)
		})
		require.NoError(t, err)
		return out
	}
	all := summaries(nil, h.Pens, h.Dressings)
	require.Len(t, all, 2)
	assert.Equal(t, []int64{h.Pens.ID, h.Dressings.ID}, []int64{all[0].ID, all[1].ID})
	assert.Zero(t, all[0].UsableThrough)
	assert.Equal(t, []any{"2028-02-29", inventory.RulePrinted}, []any{all[1].UsableThrough.String(), all[1].Rule})
	assert.Equal(t, []stock.AtPlace{{Place: "N-01", Qty: 6}, {Place: "NORTH-STORE", Qty: 12},
		{Place: "SOUTH-STORE", Qty: 2}}, all[1].Where)
	assert.Equal(t, []stock.AtPlace{{Place: "SOUTH-STORE", Qty: 2}}, summaries([]string{"SOUTH"}, h.Dressings)[0].Where)
	assert.Empty(t, summaries(nil))
}
