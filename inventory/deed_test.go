package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

// TestHistory: what people do is found by bag, batch, person and day, with the
// terminal that it was done from, each at their own stations.
func TestHistory(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		h.person("Mo M", inventory.Manager, "seven lamps at dusk")
		from := crew
		from.From = "north phone"
		ctx := inventory.Acting(h.ctx, from)
		_, err := h.s.Shift.RecordCheck(ctx, crew, sealCheck(h.bag("N-01").Position, "101"), "key-1")
		require.NoError(t, err)

		find := func(by inventory.Actor, f inventory.HistoryFilter) []inventory.HistoryEntry {
			t.Helper()
			out, _, err := h.s.History.History(h.ctx, by, f, inventory.Page{})
			require.NoError(t, err)
			return out
		}
		of := find(keeper, inventory.HistoryFilter{Place: "n-01", Person: crew.Name})
		require.NotEmpty(t, of)
		assert.Equal(t, inventory.HistorySealCheck, of[0].Kind)
		assert.Equal(t, "north phone", of[0].From)
		assert.Equal(t, crew.Name, of[0].By)
		assert.Equal(t, "NORTH", of[0].Station)
		today := h.now.In(london(t))
		assert.NotEmpty(t, find(keeper, inventory.HistoryFilter{Day: today}))
		assert.Empty(t, find(keeper, inventory.HistoryFilter{Day: today.AddDays(1)}))
		moved := find(keeper, inventory.HistoryFilter{BatchNo: "B1"})
		require.NotEmpty(t, moved)
		assert.Equal(t, inventory.HistoryMovement, moved[0].Kind)
		assert.Empty(t, find(keeper, inventory.HistoryFilter{BatchNo: "none such"}))

		assert.NotEmpty(t, find(admin, inventory.HistoryFilter{Person: "Mo M"}))
		assert.Empty(t, find(keeper, inventory.HistoryFilter{Person: "Mo M"}), "who keeps people sees what was done to them")
		south := inventory.Actor{Name: "S", Role: inventory.Manager, Stations: []string{"SOUTH"}}
		assert.Empty(t, find(south, inventory.HistoryFilter{Place: "N-01"}))
		_, _, err = h.s.History.History(h.ctx, crew, inventory.HistoryFilter{}, inventory.Page{})
		requireKind(t, inventory.Forbidden, err)
	})
}

func london(t *testing.T) *time.Location {
	t.Helper()
	zone, err := inventory.Zone("Europe/London")
	require.NoError(t, err)
	return zone
}
