package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

func TestShortageRows(t *testing.T) {
	g := newRegion("N", "S").
		needs("N", "B1", 1, inventory.Line{Item: "A", Pouch: "Red", Par: 4, Minimum: 2, Critical: true},
			inventory.Line{Item: "B", Par: 1}).
		needs("S", "B2", 1, inventory.Line{Item: "A", Par: 2, Minimum: 1}, inventory.Line{Item: "C", PresenceOnly: true},
			inventory.Line{Item: "D", CarriedElsewhere: "vest"})
	hold := func(bag int, item string, qty int, end string) {
		b := aBag{g.Bags[bag]}
		b.holds(item, qty, end)
		g.Bags[bag] = b.BagView
	}
	hold(0, "A", 1, "2027-12-31")
	hold(0, "A", 5, "2027-06-13")
	hold(0, "B", 1, "")
	hold(1, "A", 1, "2027-09-30")
	hold(1, "C", 3, "")
	rep := g.report()
	assert.Equal(t, []inventory.ShortageRow{
		{Station: "N", Bag: "B1", Item: "A", Pouch: "Red", Par: 4, Minimum: 2, Usable: 1, Shortfall: 3, BelowMinimum: true,
			Critical: true},
		{Station: "S", Bag: "B2", Item: "A", Par: 2, Minimum: 1, Usable: 1, Shortfall: 1},
	}, rep.Rows)
	assert.Equal(t, inventory.BagCounts{NotReady: 1, ReadyWithGaps: 1}, rep.Bags)
	assert.Equal(t, []inventory.FirstStop{{Bag: "B2", Station: "S", On: inventorytest.Day("2027-10-01"), LotID: 1}},
		rep.FirstStops)
	require.Len(t, rep.States, 2)
	for i, want := range [][]any{
		{"B1", "N", inventory.NotReady, "Do not use: A: 1 of 4 in Red, at least 2 required"},
		{"B2", "S", inventory.ReadyWithGaps, "OK to go out, 2 gaps"},
	} {
		b := rep.States[i]
		assert.Equal(t, want, []any{b.Bag, b.Station, b.State, b.Headline.String()})
	}
	assert.Equal(t, []inventory.Buy{{Station: "N", Item: "A", Qty: 3}, {Station: "S", Item: "A", Qty: 1}}, rep.Buy)
	assert.False(t, rep.ClockLeft)
	assert.True(t, inventory.ShortagesOf(g.ReportInput, inventorytest.Noon, inventorytest.Day("2027-06-15"), 30).ClockLeft)
}

func TestBuyWholePacks(t *testing.T) {
	for size, packs := range map[int]int{1: 7, 2: 4, 7: 1, 10: 1, 3: 3} {
		g := newRegion("N").needs("N", "B1", 1, inventory.Line{Item: "A", Par: 4}, inventory.Line{Item: "A", Pouch: "Red",
			Par: 3})
		it := g.Items["A"]
		it.PreferredProduct = 9
		g.Items["A"] = it
		g.Products[9] = inventory.Product{ID: 9, Item: "A", PackSize: size}
		assert.Equal(t, []inventory.Buy{{Station: "N", Item: "A", Qty: 7, Packs: packs, PackSize: size, Product: 9}},
			g.report().Buy)
	}
}

func TestEmptyReportHasLists(t *testing.T) {
	rep := newRegion("N").report()
	assert.NotNil(t, rep.Rows)
	assert.NotNil(t, rep.Fill)
	assert.NotNil(t, rep.Buy)
	assert.NotNil(t, rep.FirstStops)
	assert.NotNil(t, rep.States)
	assert.Zero(t, rep.AsOf, "each station on its own today")
	assert.Equal(t, "2027-06-20", inventory.ShortagesOf(newRegion("N").ReportInput, inventorytest.Noon,
		inventorytest.Day("2027-06-20"),
		30).AsOf.String())
}
