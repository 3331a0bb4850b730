package stock_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// Of each item a quartermaster sees what is in the store, in the stores of their other stations and in bags, its next
// date, and what the report says is missing.
func TestByItem(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Move(h.Dressings.ID, 5, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		late := h.Receive("DRESSING", "B2", 3, "2027-12")
		h.Move(late.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		far := h.Receive("GAUZE", "G1", 2, "2027-08")
		h.Move(far.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		byItem := func(by inventory.Actor, item string) stock.OfItem {
			rows, err := h.S.Stock.ByItem(h.Ctx, by, inventory.Station{Code: "NORTH", Timezone: "Europe/London"})
			require.NoError(t, err)
			require.Len(t, rows, len(fixture.HouseItems), "every item, there or not")
			i := slices.IndexFunc(rows, func(r stock.OfItem) bool { return r.Code == item })
			return rows[i]
		}
		d := byItem(fixture.Keeper, "DRESSING")
		assert.Equal(t, stock.Units{InStore: 9 + 2, Elsewhere: 5, InBags: 6}, d.Units, "not what is set apart")
		assert.Equal(t, inventorytest.Day("2027-12-31"), d.Next)
		require.Len(t, d.Batches, 2)
		assert.Equal(t, "B2", d.Batches[0].BatchNo, "what ends first")
		assert.Equal(t, stock.Units{InStore: 9, Elsewhere: 5, InBags: 6}, d.Batches[1].Units)
		g := byItem(fixture.Keeper, "GAUZE")
		assert.Equal(t, stock.Units{Elsewhere: 2}, g.Units)
		assert.Zero(t, g.Next, "what is elsewhere is no date here")

		rep, err := h.S.Report.Shortages(h.Ctx, fixture.Manager, []string{"NORTH"}, lists.Outlook{Horizon: -1})
		require.NoError(t, err)
		missing := map[string]int{}
		for _, row := range rep.Rows {
			missing[row.Item] += row.Shortfall
		}
		require.NotEmpty(t, missing)
		for item, n := range missing {
			assert.Equal(t, n, byItem(fixture.Keeper, item).Short, "%s, as in the report", item)
		}

		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		assert.Zero(t, byItem(north, "DRESSING").Elsewhere, "not of a station that is not theirs")
		_, err = h.S.Stock.ByItem(h.Ctx, north, inventory.Station{Code: "SOUTH", Timezone: "Europe/London"})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Stock.ByItem(h.Ctx, fixture.Crew, inventory.Station{Code: "NORTH", Timezone: "Europe/London"})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}
