package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestShortagesClockOfShownStations: a report for a station where the day asked
// about is today leaves no clock out, whatever day it is elsewhere.
func TestShortagesClockOfShownStations(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Now = inventorytest.At("2027-06-14T13:00:00Z") // the next day in Auckland
	for station, left := range map[string]bool{"NORTH": false, "SOUTH": true} {
		rep, err := h.S.Report.Shortages(h.Ctx, fixture.Keeper, []string{station},
			lists.Outlook{AsOf: inventorytest.Day("2027-06-14"),
				Horizon: -1})
		require.NoError(t, err)
		assert.Equal(t, left, rep.ClockLeft, station)
	}
}
