package report_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/reorder"
	"stowkeeper/inventory/report"
)

const monday = "2027-06-14"

// service is one station with bags that want two dressings each, at least one; what lies in each, and in the store, is
// how many last until when.
func service(lead int, store map[string]int, bags ...map[string]int) inventory.ReportInput {
	station := inventory.Station{Code: "NORTH", Timezone: "UTC"}
	items := map[string]inventory.Item{"DRESSING": {Code: "DRESSING", Name: "dressing", LeadTimeDays: lead,
		PreferredProduct: 1}}
	g := inventory.ReportInput{Stations: []inventory.Station{station}, Items: items,
		StationOf: map[string]string{station.StoreCode(): "NORTH"},
		Products:  map[int64]inventory.Product{1: {ID: 1, Item: "DRESSING", PackSize: 3}}}
	lots := int64(0)
	stock := func(place string, of map[string]int) (out []inventory.Stock) {
		for _, until := range slices.Sorted(func(yield func(string) bool) {
			for k := range of {
				if !yield(k) {
					return
				}
			}
		}) {
			lots++
			lot := inventory.Lot{ID: lots, Batch: inventory.Batch{Item: "DRESSING", LastUsable: inventorytest.Day(until)}}
			out = append(out, inventory.Stock{Place: place, Lot: lot, Qty: of[until]})
		}
		return out
	}
	for i, of := range bags {
		code := fmt.Sprintf("N-%02d", i+1)
		g.Bags = append(g.Bags, inventory.BagView{Station: station, Items: items, Stock: stock(code, of),
			Bag: inventory.Bag{Code: code, Station: "NORTH", AtStation: "NORTH", Priority: 5, Purpose: inventory.ForIssue},
			List: inventory.KitList{Code: "FIRST", Version: 1,
				Lines: []inventory.Line{{Item: "DRESSING", Par: 2, Minimum: 1}}}})
	}
	g.Stores = stock(station.StoreCode(), store)
	return g
}

// TestOutlookByHand: weeks are counted from 14 June, a Monday.
func TestOutlookByHand(t *testing.T) {
	for _, c := range []struct {
		name                 string
		g                    inventory.ReportInput
		nobody, fill, orders string // how many may go out, and from which week on it is another number
	}{
		{"both last", service(14, nil, map[string]int{"2029-01-01": 2}, map[string]int{"2029-01-01": 2}),
			"2", "2", "2"},
		{"one ends after two weeks and a half, and the store has one that ends with the year",
			service(14, map[string]int{"2027-12-31": 1}, map[string]int{"2027-07-01": 2}, map[string]int{"2029-01-01": 2}),
			"2 3:1", "2 29:1", "2"},
		{"empty now: what is ordered today comes in a week", service(7, nil, map[string]int{}), "0", "0", "0 1:1"},
		{"and after three weeks, where that is how long it takes", service(21, nil, map[string]int{}), "0", "0", "0 3:1"},
		{"ordered before it ends, as long as it takes",
			service(60, nil, map[string]int{"2027-09-30": 2}), "1 16:0", "1 16:0", "1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			weeks := report.OutlookOf(c.g, inventorytest.At(monday+"T10:00:00Z"), nil, 0, 1).Weeks(nil)
			require.Len(t, weeks, report.Weeks+1)
			said := func(of func(report.Week) int) (out string) {
				for i, w := range weeks {
					assert.Equal(t, inventorytest.Day(monday).AddDays(7*i), w.On)
					assert.Equal(t, len(c.g.Bags), w.Bags)
					switch {
					case i == 0:
						out = fmt.Sprint(of(w))
					case of(w) != of(weeks[i-1]):
						out += fmt.Sprintf(" %d:%d", i, of(w))
					}
				}
				return out
			}
			assert.Equal(t, c.nobody, said(func(w report.Week) int { return w.NobodyActs }), "nobody acts")
			assert.Equal(t, c.fill, said(func(w report.Week) int { return w.FillPlan }), "fill plan")
			assert.Equal(t, c.orders, said(func(w report.Week) int { return w.Orders }), "orders")
		})
	}
}

// naiveOutlook lives through the weeks with every bag and all of the report each time, and knows nothing of what can
// have changed.
func naiveOutlook(g inventory.ReportInput, now inventory.Instant, day inventory.Day, orders bool) []int {
	type coming struct {
		station, item string
		qty           int
		due           inventory.Day
	}
	var out []int
	var order []coming
	bags, stores := slices.Clone(g.Bags), slices.Clone(g.Stores)
	made, ahead := int64(0), 0
	for _, it := range g.Items {
		ahead = max(ahead, it.LeadTimeDays)
	}
	for w := 0; w <= report.Weeks; w, day = w+1, day.AddDays(7) {
		var left []coming
		for _, o := range order {
			if o.due > day {
				left = append(left, o)
				continue
			}
			made--
			stores = append(stores, inventory.Stock{Place: inventory.Station{Code: o.station}.StoreCode(), Qty: o.qty,
				Lot: inventory.Lot{ID: made, Batch: inventory.Batch{Item: o.item, LastUsable: day.AddDays(3650)}}})
		}
		order = left
		if w > 0 {
			bags, stores = naiveFill(g, bags, stores, now, day, &made)
		}
		g.Bags, g.Stores = bags, stores
		if orders {
			for _, b := range inventory.ShortagesOf(g, now, day.AddDays(ahead+7), 0).Buy {
				for _, o := range order {
					if o.station == b.Station && o.item == b.Item {
						b.Qty -= o.qty
					}
				}
				pack := max(1, b.PackSize)
				for qty := 0; qty < b.Qty; qty += pack {
					order = append(order, coming{b.Station, b.Item, pack, day.AddDays(g.Items[b.Item].LeadTimeDays)})
				}
			}
		}
		n := 0
		for _, v := range bags {
			if s := judged(v, now, day); !v.Bag.Retired() && (s == inventory.Ready || s == inventory.ReadyWithGaps) {
				n++
			}
		}
		out = append(out, n)
	}
	return out
}

func naiveFill(g inventory.ReportInput, bags []inventory.BagView, stores []inventory.Stock, now inventory.Instant,
	day inventory.Day, made *int64) ([]inventory.BagView, []inventory.Stock) {
	var fit []inventory.BagView
	for _, v := range bags {
		var stock []inventory.Stock
		for _, st := range v.Stock {
			it := v.Items[st.Lot.Item]
			if len(st.Lot.Withdrawn) == 0 && !inventory.WornOut(it, st.Lot) && !inventory.PastEnd(it, st.Lot, day) {
				stock = append(stock, st)
			}
		}
		v.Stock = stock
		fit = append(fit, v)
	}
	g.Bags, g.Stores = fit, stores
	for _, f := range inventory.ShortagesOf(g, now, day, 0).Fill {
		for i := range fit {
			if fit[i].Bag.Code != f.Bag || f.KitList != "" {
				continue
			}
			for k := range stores {
				lot := stores[k].Lot
				if lot.ID != f.LotID || stores[k].Place != f.From {
					continue
				}
				stores[k].Qty -= f.Qty
				*made--
				lot.ID, lot.Clocks = *made, inventory.ClocksAfter(g.Items[lot.Item], lot.Clocks, fit[i].Bag.Place(), day, day)
				fit[i].Stock = append(fit[i].Stock, inventory.Stock{Place: f.Bag, Lot: lot, Qty: f.Qty})
			}
			fit[i] = fit[i].OnNewest(day)
		}
	}
	return fit, slices.DeleteFunc(stores, func(st inventory.Stock) bool { return st.Qty == 0 })
}

// TestOutlookIsEachWeekLived: on bags and stores made at random the three cases are those of living through each week
// with everything, and the first is what the year ahead says.
func TestOutlookIsEachWeekLived(t *testing.T) {
	t.Parallel()
	now := inventorytest.At(monday + "T10:00:00Z")
	changed := [3]int{}
	for seed := range uint64(8) {
		m := inventorytest.NewMaker(seed)
		m.Kept = seed%2 == 0
		g := m.Region(8, 12)
		for code, it := range g.Items {
			it.LeadTimeDays = m.IntN(4) * 10
			g.Items[code] = it
		}
		day := inventory.Day(0)
		for _, s := range g.Stations {
			day = max(day, s.Today(now))
		}
		weeks := report.OutlookOf(g, now, nil, 0, 1).Weeks(nil)
		spans := report.YearAheadOf(g.Bags, now).Bags
		fills, orders := naiveOutlook(g, now, day, false), naiveOutlook(g, now, day, true)
		for i, w := range weeks {
			byYear := 0
			for _, y := range spans {
				for _, s := range y.Spans {
					if s.From <= w.On && w.On <= s.Until && (s.State == inventory.Ready || s.State == inventory.ReadyWithGaps) {
						byYear++
					}
				}
			}
			if w.On <= day.AddDays(report.YearDays-2) { // stations have one day or the other
				require.Equal(t, byYear, w.NobodyActs, "seed %d, week %d", seed, i)
			}
			require.Equal(t, fills[i], w.FillPlan, "seed %d, week %d", seed, i)
			require.Equal(t, orders[i], w.Orders, "seed %d, week %d", seed, i)
			if i > 0 {
				for k, same := range []bool{w.NobodyActs == weeks[i-1].NobodyActs, w.FillPlan == weeks[i-1].FillPlan,
					w.Orders == weeks[i-1].Orders} {
					if !same {
						changed[k]++
					}
				}
			}
		}
	}
	for k, n := range changed {
		assert.Positive(t, n, "case %d never changes", k)
	}
}

// TestOutlookWithUse: without use the last case is the one before; with use the stations run short until orders come,
// the same seed gives the same years, and the band holds most of other years.
func TestOutlookWithUse(t *testing.T) {
	t.Parallel()
	now := inventorytest.At(monday + "T10:00:00Z")
	lasts := map[string]int{"2031-01-01": 2}
	g := service(28, map[string]int{"2031-01-01": 2}, lasts, lasts, lasts, lasts, lasts)
	for _, w := range report.OutlookOf(g, now, nil, 3, 1).Weeks(nil) {
		require.Equal(t, report.Band{Low: 5, Middle: 5, High: 5}, w.UseGoesOn)
	}
	uses := []report.Expected{{Station: "NORTH", Item: "DRESSING", Use: reorder.Use{Mean: 1.2, Variance: 2}},
		{Station: "SOUTH", Item: "DRESSING", Use: reorder.Use{Mean: 9, Variance: 9}}, // nothing is there
		{Station: "NORTH", Item: "TAPE", Use: reorder.Use{Mean: 9, Variance: 9}}}
	const runs = 99
	band := report.OutlookOf(g, now, uses, runs, 1).Weeks(nil)
	require.Equal(t, band, report.OutlookOf(g, now, uses, runs, 1).Weeks(nil))
	require.NotEqual(t, band, report.OutlookOf(g, now, uses, runs, 2).Weeks(nil))
	assert.Equal(t, report.Band{Low: 5, Middle: 5, High: 5}, band[0].UseGoesOn, "today is known")
	inside, short := 0, 0
	for seed := range uint64(100) {
		for i, w := range report.OutlookOf(g, now, uses, 1, 100+seed).Weeks(nil)[1:] {
			b := band[i+1].UseGoesOn
			require.LessOrEqual(t, b.Low, b.Middle)
			require.LessOrEqual(t, b.Middle, b.High)
			if b.Low <= w.UseGoesOn.Middle && w.UseGoesOn.Middle <= b.High {
				inside++
			}
			if w.UseGoesOn.Middle < 5 {
				short++
			}
		}
	}
	assert.GreaterOrEqual(t, float64(inside)/(100*report.Weeks), 0.87)
	assert.Positive(t, short)
}

// TestOutlookOfStations counts bags of some stations only; what others need is still planned for.
func TestOutlookOfStations(t *testing.T) {
	t.Parallel()
	now := inventorytest.At(monday + "T10:00:00Z")
	g := inventorytest.NewMaker(5).Region(9, 12)
	year, sum := report.OutlookOf(g, now, nil, 0, 1), make([]report.Week, report.Weeks+1)
	for _, s := range g.Stations {
		for i, w := range year.Weeks([]string{s.Code}) {
			sum[i] = report.Week{On: w.On, Bags: sum[i].Bags + w.Bags, NobodyActs: sum[i].NobodyActs + w.NobodyActs,
				FillPlan: sum[i].FillPlan + w.FillPlan, Orders: sum[i].Orders + w.Orders}
		}
	}
	assert.Equal(t, year.Weeks(nil), sum)
}

func BenchmarkOutlook(b *testing.B) {
	g := inventorytest.NewMaker(3).Region(100, 100)
	now := inventorytest.At(monday + "T10:00:00Z")
	for b.Loop() {
		report.OutlookOf(g, now, nil, 0, 1).Weeks(nil)
	}
}
