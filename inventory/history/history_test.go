package history_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestHistory: what people do is found by bag, batch, person and day, with the
// terminal that it was done from, each at their own stations.
func TestHistory(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Person("Mo M", inventory.Manager, "seven lamps at dusk")
		from := fixture.Crew
		from.From = "north phone"
		ctx := inventory.Acting(h.Ctx, from)
		_, err := h.S.Shift.RecordCheck(ctx, fixture.Crew, fixture.SealCheck(h.Bag("N-01").Position, "101"), "key-1")
		require.NoError(t, err)

		find := func(by inventory.Actor, f inventory.HistoryFilter) []inventory.HistoryEntry {
			t.Helper()
			out, _, err := h.S.History.History(h.Ctx, by, f, inventory.Page{})
			require.NoError(t, err)
			return out
		}
		of := find(fixture.Keeper, inventory.HistoryFilter{Place: "n-01", Person: fixture.Crew.Name})
		require.NotEmpty(t, of)
		assert.Equal(t, inventory.HistorySealCheck, of[0].Kind)
		assert.Equal(t, "north phone", of[0].From)
		assert.Equal(t, fixture.Crew.Name, of[0].By)
		assert.Equal(t, "NORTH", of[0].Station)
		today := h.Now.In(london(t))
		assert.NotEmpty(t, find(fixture.Keeper, inventory.HistoryFilter{Day: today}))
		assert.Empty(t, find(fixture.Keeper, inventory.HistoryFilter{Day: today.AddDays(1)}))
		moved := find(fixture.Keeper, inventory.HistoryFilter{BatchNo: "B1"})
		require.NotEmpty(t, moved)
		assert.Equal(t, inventory.HistoryMovement, moved[0].Kind)
		assert.Empty(t, find(fixture.Keeper, inventory.HistoryFilter{BatchNo: "none such"}))

		assert.NotEmpty(t, find(fixture.Admin, inventory.HistoryFilter{Person: "Mo M"}))
		assert.Empty(t, find(fixture.Keeper, inventory.HistoryFilter{Person: "Mo M"}),
			"who keeps people sees what was done to them")
		_, err = h.S.History.Locked(h.Ctx, fixture.Keeper)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		locked, err := h.S.History.Locked(h.Ctx, fixture.Admin)
		require.NoError(t, err)
		assert.Empty(t, locked, "nobody was kept out")
		south := inventory.Actor{Name: "S", Role: inventory.Manager, Stations: []string{"SOUTH"}}
		assert.Empty(t, find(south, inventory.HistoryFilter{Place: "N-01"}))
		_, _, err = h.S.History.History(h.Ctx, fixture.Crew, inventory.HistoryFilter{}, inventory.Page{})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}

func london(t *testing.T) *time.Location {
	t.Helper()
	zone, err := inventory.Zone("Europe/London")
	require.NoError(t, err)
	return zone
}

// TestClockBehind: a clock that is set back is told against the newest record, and its administrator's word ends that;
// what is recorded from then on is compared again.
func TestClockBehind(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		_, err := h.S.Lists.CreateStation(h.Ctx, fixture.Admin, inventory.Station{Code: "NEW", Name: "New", Timezone: "UTC"})
		require.NoError(t, err)
		newest := h.Now
		look := func() history.ClockCheck {
			require.NoError(t, h.S.History.LookAtClock(h.Ctx))
			return h.S.History.Clock()
		}
		assert.Equal(t, history.ClockCheck{Now: newest}, look())
		h.Pass(-48 * time.Hour)
		assert.Equal(t, history.ClockCheck{Now: h.Now, Newest: newest}, look())
		inventorytest.RequireKind(t, inventory.Forbidden, h.S.History.ConfirmClock(h.Ctx, fixture.Keeper))
		signedIn := fixture.Admin
		signedIn.Session = "unproven"
		inventorytest.RequireKind(t, inventory.Invalid, h.S.History.ConfirmClock(h.Ctx, signedIn))
		require.NoError(t, h.S.History.ConfirmClock(h.Ctx, fixture.Admin))
		assert.False(t, h.S.History.Clock().Warns())
		right := h.Now
		h.Pass(-25 * time.Hour)
		assert.Equal(t, right, look().Newest)
	})
}
