package inventory_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

func TestSheetOffset(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		keep := func(by inventory.Actor, station string, x, y float64) error {
			_, err := h.s.Storeroom.KeepSheetOffset(h.ctx, by, inventory.SheetOffset{Station: station, Sheet: "a4-3x7", X: x,
				Y: y})
			return err
		}
		require.NoError(t, keep(keeper, "north", 1.234, -5))
		o, err := h.s.Storeroom.SheetOffset(h.ctx, keeper, "NORTH", "a4-3x7")
		require.NoError(t, err)
		assert.Equal(t, inventory.SheetOffset{Station: "NORTH", Sheet: "a4-3x7", X: 1.23, Y: -5}, o, "to a hundredth")
		for _, nothing := range [][2]string{{"NORTH", "a4-2x4"}, {"SOUTH", "a4-3x7"}, {"", "a4-3x7"}} {
			o, err := h.s.Storeroom.SheetOffset(h.ctx, keeper, nothing[0], nothing[1])
			require.NoError(t, err)
			assert.Equal(t, inventory.SheetOffset{Station: nothing[0], Sheet: nothing[1]}, o)
		}
		require.NoError(t, keep(manager, "NORTH", 0, 0))
		all, err := h.s.Storeroom.SheetOffsets(h.ctx, keeper, "NORTH")
		require.NoError(t, err)
		assert.Equal(t, []inventory.SheetOffset{{Station: "NORTH", Sheet: "a4-3x7"}}, all)

		requireFields(t, keep(keeper, "NORTH", 5.01, 0), "offset_x")
		requireFields(t, keep(keeper, "NORTH", math.NaN(), math.Inf(-1)), "offset_x", "offset_y")
		requireFields(t, keep(admin, "NOWHERE", 0, 0), "station")
		requireKind(t, inventory.Forbidden, keep(crew, "NORTH", 0, 0))
		requireKind(t, inventory.Forbidden, keep(inventory.Actor{Name: "S", Role: inventory.Manager,
			Stations: []string{"SOUTH"}}, "NORTH", 0, 0))
	})
}
