package report_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/store/storetest"
)

// TestStops: each bag with the first day on which it stops and what mends it, by today's plan where it is not ready
// already, else by that of the last day looked at.
func TestStops(t *testing.T) {
	t.Parallel()
	now, today := inventorytest.At(monday+"T10:00:00Z"), inventorytest.Day(monday)
	lasts, ends := map[string]int{"2029-01-01": 2}, map[string]int{"2027-06-20": 2}
	for _, c := range []struct {
		name string
		lead int
		have map[string]int // in the store
		bag  map[string]int
		want string
		in   map[string]int // in a module of the bag, where it has one
	}{
		{"lasts", 5, nil, lasts, "", nil},
		{"the store has one that lasts", 5, map[string]int{"2028-01-01": 1}, ends, "2027-06-21 store by 2027-06-14 late 0",
			nil},
		{"what the store has ends before", 5, map[string]int{"2027-07-01": 9}, ends,
			"2027-06-21 order by 2027-06-19 late 0, at the latest on 2027-06-16", nil},
		{"an order comes late", 30, nil, ends, "2027-06-21 order by 2027-07-14 late 23, at the latest on 2027-06-14", nil},
		{"empty now", 5, map[string]int{"2027-07-01": 9}, nil, "2027-06-14 store by 2027-06-14 late 0", nil},
		{"after the last day", 5, nil, map[string]int{"2027-07-14": 2}, "", nil},
		{"on the last day", 5, nil, map[string]int{"2027-07-13": 2},
			"2027-07-14 order by 2027-06-19 late 0, at the latest on 2027-07-09", nil},
		{"its module ends, and the store has one that lasts", 5, map[string]int{"2028-01-01": 1}, lasts,
			"2027-06-21 store by 2027-06-14 late 0", ends},
		{"its module is empty now, and an order comes late", 5, nil, lasts,
			"2027-06-14 order by 2027-06-19 late 5, at the latest on 2027-06-14", map[string]int{}},
		{"both are, and the store has one", 5, map[string]int{"2028-01-01": 1}, nil,
			"2027-06-14 order by 2027-06-19 late 5, at the latest on 2027-06-14", map[string]int{}},
	} {
		g := service(c.lead, c.have, c.bag)
		if c.in != nil {
			g = service(c.lead, c.have, c.bag, c.in)
			g.Bags[1].Bag.Inside, g.Bags[1].Bag.KitList = "N-01", "POD"
			g.Bags[0].Modules = []inventory.BagView{g.Bags[1]}
			g.Bags[0].List.Modules = []inventory.Module{{KitList: "POD", Count: 1}}
		}
		through := today.AddDays(30)
		said := ""
		for _, s := range report.StopsOf(g, inventory.ShortagesOf(g, now, 0, 30), inventory.ShortagesOf(g, now, through, 0),
			today, through) {
			said += fmt.Sprintf("%s %s by %s late %d", s.On, s.Means, s.MendOn, s.Late())
			if s.OrderBy != 0 {
				said += fmt.Sprintf(", at the latest on %s", s.OrderBy)
			}
		}
		assert.Equal(t, c.want, said, c.name)
	}
}

// TestAheadOfStations: what stops at the actor's stations, and the year that is computed beside it.
func TestAheadOfStations(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t)) // N-01 holds dressings until 2028-02-29; the others are empty
	a, err := h.S.Report.Ahead(h.Ctx, fixture.Admin, nil, 30)
	require.NoError(t, err)
	assert.Equal(t, a.AsOf.AddDays(30), a.Through)
	bags := []string{}
	for _, s := range a.Stops {
		assert.True(t, s.Now)
		bags = append(bags, s.Bag)
	}
	assert.Equal(t, []string{"N-02", "S-01"}, bags)
	a, err = h.S.Report.Ahead(h.Ctx, fixture.Admin, []string{"NORTH"}, 365*2)
	require.NoError(t, err)
	require.Len(t, a.Stops, 2)
	assert.Equal(t, "N-01 2028-03-01", fmt.Sprint(a.Stops[1].Bag, " ", a.Stops[1].On))
	assert.Equal(t, h.Dressings.ID, a.Stops[1].LotID)
	_, err = h.S.Report.Ahead(h.Ctx, fixture.Crew, nil, 30)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	year, err := h.S.Report.YearAhead(h.Ctx, fixture.Admin, report.YearAsk{Weeks: true, First: 1})
	require.NoError(t, err)
	require.Len(t, year.Bags, 1)
	assert.Equal(t, 3, year.All)
	require.Len(t, year.Weeks, report.Weeks+1)
	assert.Equal(t, 1, year.Weeks[0].NobodyActs)
}

// TestWaits: a report waits at the station of its bag, and is no matter of another whose units it says were used.
func TestWaits(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	use := h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 4, CameFrom: "N-01"},
		inventory.UseLine{LotID: h.Dressings.ID, Qty: 4, CameFrom: "N-01"})
	use.Bag, use.SeenPosition = "S-01", h.Bag("S-01").Position
	use, err := h.S.Shift.RecordUse(h.Ctx, fixture.Admin, use, "")
	require.NoError(t, err)
	require.Equal(t, inventory.StatusToReview, use.Status)
	for _, c := range []struct {
		station string
		days    time.Duration
		want    []string
	}{{"SOUTH", 6, nil}, {"SOUTH", 2, []string{"S-01 SOUTH"}}, {"NORTH", 0, nil}} {
		h.Pass(c.days * 24 * time.Hour)
		a, err := h.S.Report.Ahead(h.Ctx, fixture.Admin, []string{c.station}, 30)
		require.NoError(t, err)
		var got []string
		for _, w := range a.Waits {
			got = append(got, w.Bag+" "+w.Station)
		}
		assert.Equal(t, c.want, got, c.station)
	}
}

// TestExpected: a station that used two a month for a year is expected to use nearly that; what is known of one month
// leans on the others, and is not taken for a year in which nothing else was used; what this month used so far says
// nothing yet.
func TestExpected(t *testing.T) {
	t.Parallel()
	var used []report.Used
	for m := range 12 {
		used = append(used, report.Used{Station: "N", Item: "A", Month: inventorytest.Day("2026-06-01").AddMonths(m), Qty: 2})
	}
	used = append(used, report.Used{Station: "S", Item: "A", Month: inventorytest.Day("2027-05-01"), Qty: 1},
		report.Used{Station: "N", Item: "B", Month: inventorytest.Day("2027-06-01"), Qty: 500})
	of := report.ExpectedOf(used, inventorytest.Day(monday))
	require.Len(t, of, 2)
	assert.InDelta(t, 2*12/52.18, of[0].Use.Mean, 0.01)
	assert.InDelta(t, (1.0+6*25/13.0)/7*12/52.18, of[1].Use.Mean, 0.01, "a prior of six months")
	used = append(used, report.Used{Station: "S", Item: "B", Month: inventorytest.Day("2026-12-01"), Qty: 1},
		report.Used{Station: "S", Item: "B", Month: inventorytest.Day("2020-01-01"), Qty: 9})
	of = report.ExpectedOf(used, inventorytest.Day(monday))
	require.Len(t, of, 3)
	assert.InDelta(t, (1.0+6*25/36.0)/30*12/52.18, of[1].Use.Mean, 0.01, "two years are known of it")
	assert.Empty(t, report.ExpectedOf(nil, inventorytest.Day(monday)))
}
