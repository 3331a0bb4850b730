package report_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/reorder"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/store/storetest"
)

// TestReorders: the target is the quantile of the use that it covers, and what is ordered brings the position there in
// packs, not past what can be used in time; where too little is known, only what bags lack is bought.
func TestReorders(t *testing.T) {
	day := inventorytest.Day(monday)
	base := func() inventory.ReportInput {
		g := service(21, map[string]int{"2028-06-14": 4}, map[string]int{"2028-06-14": 1})
		pr := g.Products[1]
		pr.Prices = []inventory.Price{{Amount: money.Amount{Minor: 200, Currency: "EUR"}, ValidFrom: day}}
		g.Products[1] = pr
		for i := range g.Stores {
			g.Stores[i].Lot.ReceivedOn = day.AddDays(-1)
		}
		return g
	}
	use := report.Expected{Station: "NORTH", Item: "DRESSING", Use: reorder.Use{Mean: 3.5, Variance: 3.5}} // in a week
	week := reorder.Terms{Use: reorder.Use{Mean: .5, Variance: .5}, Lead: 21, Review: 7}
	level := week.BaseStock(reorder.ByNoStockOut, .95)
	for name, c := range map[string]struct {
		uses   []report.Expected
		coming int
		change func(*inventory.ReportInput)
		want   []any // too few data, usable, owed, position, target, packs, units, left out
	}{
		"up to the target": {[]report.Expected{use}, 0, nil, []any{false, 4, 1, 3, level.Units, 6, 18, 0}},
		"what is on order counts": {[]report.Expected{use}, 20, nil, []any{false, 4, 1, 23, level.Units, 0, 0,
			0}},
		"what does not outlast does not": {[]report.Expected{use}, 0, func(g *inventory.ReportInput) {
			g.Stores[0].Lot.LastUsable = day.AddDays(26)
		}, []any{false, 0, 1, -1, level.Units, 3, 9, level.Units + 1 - 9}},
		"no more than is used before it ends": {[]report.Expected{use}, 0, func(g *inventory.ReportInput) {
			g.Stores[0].Lot.ReceivedOn = g.Stores[0].Lot.LastUsable.AddDays(-20) // 10 are used in that time
		}, []any{false, 4, 1, 3, level.Units, 3, 9, level.Units - 3 - 9}},
		"too few data": {[]report.Expected{{Station: "NORTH", Item: "DRESSING", Use: use.Use, Thin: true}}, 0,
			func(g *inventory.ReportInput) { g.Stores = nil }, []any{true, 0, 1, -1, 0, 1, 3, 0}},
		"never used, and on order": {nil, 1, func(g *inventory.ReportInput) { g.Stores = nil },
			[]any{true, 0, 1, 0, 0, 0, 0, 0}},
	} {
		g := base()
		if c.change != nil {
			c.change(&g)
		}
		rep := inventory.ShortagesOf(g, inventory.Instant(day.Start(time.UTC)), 0, 0)
		out := report.ReordersOf(g, rep, c.uses, map[order.At]int{{Station: "NORTH", Item: "DRESSING"}: c.coming},
			report.ReorderPolicy{}, day)
		require.Len(t, out.Rows, 1, name)
		r := out.Rows[0]
		assert.Equal(t, c.want, []any{r.TooFewData, r.Usable, r.Owed, r.Position, r.Target, r.Packs, r.Qty, r.LeftOut}, name)
		assert.Equal(t, int64(200*r.Packs), r.Total.Minor, name)
		if !r.TooFewData {
			assert.Equal(t, []any{.95, level.NoStockOut, level.FillRate, 14.}, []any{r.Service, r.NoStockOut, r.FillRate,
				r.Demand}, name)
		}
	}
	g := base()
	g.Bags[0].List.Lines[0].Critical = true
	out := report.ReordersOf(g, inventory.Shortages{}, []report.Expected{use}, nil, report.ReorderPolicy{Critical: .999,
		ReviewDays: 14}, day)
	week.Review = 14
	assert.Equal(t, []any{14, .999, .95, week.BaseStock(reorder.ByNoStockOut, .999).Units}, []any{out.ReviewDays,
		out.Critical, out.Other, out.Rows[0].Target})
}

// TestReorder: the report is by station, of those that one may see.
func TestReorder(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	all, err := h.S.Report.Reorder(h.Ctx, fixture.Manager, nil, 0)
	require.NoError(t, err)
	require.NotEmpty(t, all.Rows)
	assert.Equal(t, []any{7, .99, .95}, []any{all.ReviewDays, all.Critical, all.Other})
	south, err := h.S.Report.Reorder(h.Ctx, fixture.Manager, []string{"SOUTH"}, all.AsOf.AddDays(30))
	require.NoError(t, err)
	for _, r := range south.Rows {
		assert.Equal(t, "SOUTH", r.Station)
	}
	_, err = h.S.Report.Reorder(h.Ctx, fixture.Crew, nil, 0)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Report.Reorder(h.Ctx, fixture.Manager, []string{"NONE"}, 0)
	inventorytest.RequireKind(t, inventory.NotFound, err)
}
