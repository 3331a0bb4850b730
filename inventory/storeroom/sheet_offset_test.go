package storeroom_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

func TestSheetOffset(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		keep := func(by inventory.Actor, station string, x, y float64) error {
			_, err := h.S.Storeroom.KeepSheetOffset(h.Ctx, by, inventory.SheetOffset{Station: station, Sheet: "a4-3x7", X: x,
				Y: y})
			return err
		}
		require.NoError(t, keep(fixture.Keeper, "north", 1.234, -5))
		o, err := h.S.Storeroom.SheetOffset(h.Ctx, fixture.Keeper, "NORTH", "a4-3x7")
		require.NoError(t, err)
		assert.Equal(t, inventory.SheetOffset{Station: "NORTH", Sheet: "a4-3x7", X: 1.23, Y: -5}, o, "to a hundredth")
		for _, nothing := range [][2]string{{"NORTH", "a4-2x4"}, {"SOUTH", "a4-3x7"}, {"", "a4-3x7"}} {
			o, err := h.S.Storeroom.SheetOffset(h.Ctx, fixture.Keeper, nothing[0], nothing[1])
			require.NoError(t, err)
			assert.Equal(t, inventory.SheetOffset{Station: nothing[0], Sheet: nothing[1]}, o)
		}
		require.NoError(t, keep(fixture.Manager, "NORTH", 0, 0))
		all, err := h.S.Storeroom.SheetOffsets(h.Ctx, fixture.Keeper, "NORTH")
		require.NoError(t, err)
		assert.Equal(t, []inventory.SheetOffset{{Station: "NORTH", Sheet: "a4-3x7"}}, all)

		inventorytest.RequireFields(t, keep(fixture.Keeper, "NORTH", 5.01, 0), "offset_x")
		inventorytest.RequireFields(t, keep(fixture.Keeper, "NORTH", math.NaN(), math.Inf(-1)), "offset_x", "offset_y")
		inventorytest.RequireFields(t, keep(fixture.Admin, "NOWHERE", 0, 0), "station")
		inventorytest.RequireKind(t, inventory.Forbidden, keep(fixture.Crew, "NORTH", 0, 0))
		inventorytest.RequireKind(t, inventory.Forbidden, keep(inventory.Actor{Name: "S", Role: inventory.Manager,
			Stations: []string{"SOUTH"}}, "NORTH", 0, 0))
	})
}
