package inventory_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// momentOn returns an instant on a day at a station, by the clock on its wall.
func momentOn(m *inventorytest.Maker, station inventory.Station, d inventory.Day) inventory.Instant {
	t := civil(d)
	return inventory.Instant(time.Date(t.Year(), t.Month(), t.Day(), inventorytest.Pick(m, 0, 0, 6, 12, 18, 23),
		m.IntN(60), m.IntN(60),
		0, naiveZones[station.Timezone]).UnixMicro())
}

// stillDays judges a bag naively on every day from the first of the walk until
// all dates lie behind.
func stillDays(v inventory.BagView, horizon int) map[inventory.Day]naiveAnswer {
	days := map[inventory.Day]naiveAnswer{}
	for d := inventorytest.WalkFrom - 1; d <= inventorytest.DatesTo+1600; d++ {
		days[d] = naiveStill(v, d, horizon)
		if d > inventorytest.WalkFrom+inventory.Day(inventorytest.WalkDays) && reflect.DeepEqual(days[d], days[d-1]) &&
			d > inventorytest.DatesTo+31 &&
			len(pending(v, d)) == 0 {
			break
		}
	}
	return days
}

// pending lists the lots that still end on or after a day.
func pending(v inventory.BagView, d inventory.Day) []int64 {
	var out []int64
	for _, st := range v.Stock {
		if end, _ := naiveEnd(v.Items[st.Lot.Item], st.Lot); end != endless && end >= d-1 {
			out = append(out, st.Lot.ID)
		}
	}
	return out
}

var badness = map[inventory.State]int{inventory.Ready: 0, inventory.ReadyWithGaps: 1, inventory.NotReady: 2}

// naiveAhead walks on day by day until the state is worse than now, and until
// the bag stops being ready.
func naiveAhead(days map[inventory.Day]naiveAnswer, today inventory.Day, now inventory.State) (change,
	stop inventory.Day) {
	if now == inventory.NotReady || now == inventory.OutOfService {
		return 0, 0
	}
	for d := today + 1; ; d++ {
		then, ok := days[d]
		if !ok {
			return change, 0
		}
		if change == 0 && badness[then.state] > badness[now] {
			change = d
		}
		if then.state == inventory.NotReady {
			return change, d
		}
	}
}

// requireSame compares one day's readiness with the naive answer.
func requireSame(t *testing.T, v inventory.BagView, days map[inventory.Day]naiveAnswer, want naiveAnswer,
	got inventory.Readiness) {
	t.Helper()
	on := got.AsOf.String()
	short := shortAnswer(got)
	want.ended = nil
	if !reflect.DeepEqual(want, short) {
		require.Equal(t, want, short, on)
	}
	stopsOver := false
	for _, f := range got.Findings {
		if f.Severity == inventory.SeverityWarn {
			stopsOver = true
		} else if stopsOver {
			t.Fatalf("%s: a stop comes after a warning", on)
		}
	}
	change, stop := naiveAhead(days, got.AsOf, want.state)
	requireChange(t, on+", next change", days, change, got.NextChange)
	requireChange(t, on+", first stop", days, stop, got.FirstStop)
	if got.FirstStop != nil {
		require.Contains(t, days[stop].ended, got.FirstStop.LotID, "%s: the lot that causes the stop ended the day before",
			on)
	}
}

func requireChange(t *testing.T, what string, days map[inventory.Day]naiveAnswer, want inventory.Day,
	got *inventory.Change) {
	t.Helper()
	switch {
	case want == 0 && got != nil:
		t.Fatalf("%s: %s, and there should be none", what, got.Date)
	case want != 0 && got == nil:
		t.Fatalf("%s: none, and it should be %s", what, civil(want).Format(time.DateOnly))
	case want != 0 && got.Date != want:
		t.Fatalf("%s: %s, and it should be %s", what, got.Date, civil(want).Format(time.DateOnly))
	}
}

// TestTwoYearsOfReadiness walks generated bags through every day of two years,
// once as the days pass and once by asking ahead, and compares each day with
// the naive implementation.
func TestTwoYearsOfReadiness(t *testing.T) {
	t.Parallel()
	states, kinds := map[inventory.State]int{}, map[inventory.FindingKind]int{}
	days := inventorytest.WalkDays
	if inventorytest.Raced {
		days /= 3
	}
	for seed := range uint64(36) {
		m := inventorytest.NewMaker(seed)
		station := inventory.Station{Code: "N", Timezone: inventorytest.WalkZones[seed%3]}
		v := m.Bag("N-01", station, m.Items())
		switch {
		case seed%2 == 1:
			v = m.KeptBag("N-01", station, m.Items())
		case seed%10 == 8:
			v.Bag.Purpose = inventory.ForTraining
		}
		horizon := inventorytest.Pick(m, 0, 1, 7, 30, 90)
		t.Run(fmt.Sprintf("bag %d in %s, horizon %d", seed, station.Timezone, horizon), func(t *testing.T) {
			still := stillDays(v, horizon)
			asked := momentOn(m, station, inventorytest.WalkFrom-1)
			for i := range days {
				d := inventorytest.WalkFrom + inventory.Day(i)
				now := momentOn(m, station, d)
				r := inventory.ReadinessOf(v, now, 0, horizon)
				require.Equal(t, d, r.AsOf)
				require.False(t, r.ClockLeft)
				requireSame(t, v, still, still[d].withClock(v, now), r)
				states[r.State]++
				for _, f := range r.Findings {
					kinds[f.Kind]++
				}
				r = inventory.ReadinessOf(v, asked, d, horizon)
				require.True(t, r.ClockLeft)
				requireSame(t, v, still, still[d], r)
			}
		})
	}
	assert.Len(t, states, 4, "every state occurs: %v", states)
	assert.Len(t, kinds, 19, "every kind of finding occurs: %v", kinds)
}

// TestTwoYearsOfShortages does the same with the report of a region in three
// time zones: rows, states, first stops, fill plan and what is to be bought.
func TestTwoYearsOfShortages(t *testing.T) {
	t.Parallel()
	const horizon = 30
	m := inventorytest.NewMaker(2027)
	g := m.Region(9, 30)
	still := make([]map[inventory.Day]naiveAnswer, len(g.Bags))
	for i, v := range g.Bags {
		still[i] = stillDays(v, horizon)
	}
	fills, transfers, buys := 0, 0, 0
	for i := range inventorytest.WalkDays {
		asOf := inventorytest.WalkFrom + inventory.Day(i)
		now := momentOn(m, inventory.Station{Timezone: "UTC"}, asOf)
		if i%2 == 0 {
			asOf = 0 // each station on its own day
		}
		rep := inventory.ShortagesOf(g, now, asOf, horizon)
		var rows []string
		var count inventory.BagCounts
		stops := map[string]inventory.Day{}
		for b, v := range g.Bags {
			d, today := asOf, naiveToday(v.Station, now)
			if d == 0 {
				d = today
			}
			a := still[b][d]
			if d == today {
				a = a.withClock(v, now)
			}
			rows = append(rows, naiveRows(v, a)...)
			switch a.state {
			case inventory.Ready:
				count.Ready++
			case inventory.ReadyWithGaps:
				count.ReadyWithGaps++
			case inventory.NotReady:
				count.NotReady++
			default:
				count.OutOfService++
			}
			is := rep.States[b]
			require.Equal(t, []any{v.Bag.Code, v.Bag.AtStation, a.state}, []any{is.Bag, is.Station, is.State})
			if _, stop := naiveAhead(still[b], d, a.state); stop != 0 {
				stops[v.Bag.Code] = stop
			}
		}
		require.Equal(t, rows, inventorytest.ShortRows(rep.Rows), "day %d", i)
		require.Equal(t, count, rep.Bags, "day %d", i)
		got := map[string]inventory.Day{}
		for _, s := range rep.FirstStops {
			got[s.Bag] = s.On
		}
		require.Equal(t, stops, got, "day %d", i)
		require.True(t, slices.IsSortedFunc(rep.FirstStops, func(a, b inventory.FirstStop) int { return int(a.On - b.On) }))
		plan := naivePlanOf(g, now, asOf)
		require.Equal(t, plan.fills, shortFills(rep.Fill), "day %d", i)
		require.Equal(t, plan.buys(g), shortBuys(rep.Buy), "day %d", i)
		for key, n := range plan.fills {
			fills += n
			if strings.Contains(key, " transfer ") {
				transfers += n
			}
		}
		buys += len(plan.buys(g))
	}
	assert.Positive(t, fills)
	assert.Positive(t, transfers)
	assert.Positive(t, buys)
}
