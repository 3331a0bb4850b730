package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/store/storetest"
)

// A year of bags made at random: the spans follow each other without a gap and
// say of each day what judging that day says.
func TestYearAheadIsEachDayJudged(t *testing.T) {
	t.Parallel()
	now := inventorytest.At("2027-06-14T10:00:00Z")
	states := map[inventory.State]int{}
	for seed := range uint64(6) {
		m := inventorytest.NewMaker(seed)
		m.Kept = seed%2 == 0
		views := m.Region(4, 10).Bags
		byCode := map[string]inventory.BagView{}
		for _, v := range views {
			byCode[v.Bag.Code] = v
		}
		for _, y := range report.YearAheadOf(views, now).Bags {
			v := byCode[y.Bag]
			next := y.From
			for _, s := range y.Spans {
				require.Equal(t, next, s.From, "%s: a gap", y.Bag)
				for day := s.From; day <= s.Until; day++ {
					require.Equal(t, judged(v, now, day), s.State, "%s on %s", y.Bag, day)
				}
				states[s.State]++
				next = s.Until.AddDays(1)
			}
			assert.Equal(t, y.Until.AddDays(1), next, "to the end of the year")
			for _, e := range y.Ends {
				assert.Equal(t, judged(v, now, e.On.AddDays(1)), e.After)
			}
			if y.StopsOn != 0 {
				assert.Equal(t, inventory.NotReady, judged(v, now, y.StopsOn))
				assert.NotEqual(t, inventory.NotReady, judged(v, now, y.StopsOn.AddDays(-1)))
			}
		}
	}
	for _, s := range []inventory.State{inventory.Ready, inventory.ReadyWithGaps, inventory.NotReady} {
		assert.Positive(t, states[s], "the bags made at random never are %s", s)
	}
}

// judged is what the report of a day says of a bag.
func judged(v inventory.BagView, now inventory.Instant, day inventory.Day) inventory.State {
	rep := inventory.ShortagesOf(inventory.ReportInput{Bags: []inventory.BagView{v},
		Stations: []inventory.Station{v.Station}, Items: v.Items}, now, day, inventory.DefaultHorizonDays)
	return rep.States[0].State
}

// TestYearAheadOfStations: the bags for issue at the actor's stations, those
// that stop first before those that never do; modules are told with their bag.
func TestYearAheadOfStations(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t)) // N-01 holds dressings until 2028-02-29
	year, err := h.S.Report.YearAhead(h.Ctx, fixture.Admin, report.YearAsk{})
	require.NoError(t, err)
	codes := []string{}
	for _, b := range year.Bags {
		codes = append(codes, b.Bag)
		assert.Equal(t, report.YearDays-1, int(b.Until-b.From))
		assert.Equal(t, b.From, b.Spans[0].From)
		assert.Equal(t, b.Until, b.Spans[len(b.Spans)-1].Until)
	}
	assert.Equal(t, []string{"N-02", "S-01", "N-01"}, codes,
		"empty bags must not go out already; training bags are left out")
	full := year.Bags[2]
	assert.Equal(t, "2028-03-01", full.StopsOn.String(), "the day after the dressings end")
	assert.Equal(t, h.Dressings.ID, full.Ends[0].LotID)
	assert.Equal(t, []inventory.State{inventory.Ready, inventory.NotReady}, []inventory.State{full.Spans[0].State,
		full.Ends[0].After})
	mine, err := h.S.Report.YearAhead(h.Ctx, fixture.Keeper, report.YearAsk{Stations: []string{"SOUTH"}})
	require.NoError(t, err)
	require.Len(t, mine.Bags, 1)
	assert.Equal(t, "S-01", mine.Bags[0].Bag)
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.Forbidden: fixture.Crew,
		inventory.NotFound: fixture.Admin} {
		_, err := h.S.Report.YearAhead(h.Ctx, by, report.YearAsk{Stations: []string{"WEST"}})
		inventorytest.RequireKind(t, kind, err)
	}
}
