package services_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestAskedForWhatIsNot: a list narrowed to a code that does not exist is not
// an empty list.
func TestAskedForWhatIsNot(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		none, ask := []string{"NONE"}, lists.Outlook{Horizon: -1}
		for name, list := range map[string]func(inventory.Actor) error{
			"places": func(by inventory.Actor) error {
				_, err := h.S.Lists.Places(h.Ctx, by, inventory.PlaceFilter{Stations: none}, inventory.Page{})
				return err
			},
			"lots": func(by inventory.Actor) error {
				_, err := h.S.Stock.Lots(h.Ctx, by, inventory.LotFilter{Stations: none}, 0, inventory.Page{})
				return err
			},
			"lots in a place": func(by inventory.Actor) error {
				_, err := h.S.Stock.Lots(h.Ctx, by, inventory.LotFilter{Place: "NONE"}, 0, inventory.Page{})
				return err
			},
			"movements": func(by inventory.Actor) error {
				_, err := h.S.Ledger.Movements(h.Ctx, by, inventory.MovementFilter{Stations: none}, inventory.Page{})
				return err
			},
			"movements of a place": func(by inventory.Actor) error {
				_, err := h.S.Ledger.Movements(h.Ctx, by, inventory.MovementFilter{Place: "NONE"}, inventory.Page{})
				return err
			},
			"bags with states": func(by inventory.Actor) error {
				_, err := h.S.Shift.BagList(h.Ctx, by, inventory.BagFilter{AtStations: none}, inventory.Page{}, ask)
				return err
			},
			"bags of a list": func(by inventory.Actor) error {
				_, err := h.S.Shift.BagList(h.Ctx, by, inventory.BagFilter{KitList: "NONE"}, inventory.Page{}, ask)
				return err
			},
			"bags inside": func(by inventory.Actor) error {
				_, err := h.S.Storeroom.Bags(h.Ctx, by, inventory.BagFilter{Inside: "NONE"}, inventory.Page{})
				return err
			},
			"shortages": func(by inventory.Actor) error { _, err := h.S.Report.Shortages(h.Ctx, by, none, ask); return err },
			"desk":      func(by inventory.Actor) error { _, err := h.S.Storeroom.Desk(h.Ctx, by, none); return err },
			"checks": func(by inventory.Actor) error {
				_, err := h.S.Shift.Checks(h.Ctx, by, inventory.RecordFilter{AtStations: none}, inventory.Page{})
				return err
			},
			"observations": func(by inventory.Actor) error {
				_, err := h.S.Storeroom.Observations(h.Ctx, by, "", inventory.ObservationFilter{AtStations: none})
				return err
			},
		} {
			for _, by := range []inventory.Actor{fixture.Admin, fixture.Keeper} {
				assert.Equal(t, inventory.NotFound, inventory.KindOf(list(by)), "%s for %s: %v", name, by.Name, list(by))
			}
		}
		_, err := h.S.Stock.Lots(h.Ctx, fixture.Crew, inventory.LotFilter{Place: "SOUTH-STORE"}, 0, inventory.Page{})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		lots, err := h.S.Stock.Lots(h.Ctx, fixture.Crew, inventory.LotFilter{Place: "NORTH-STORE"}, 0, inventory.Page{})
		require.NoError(t, err)
		assert.Empty(t, lots)
	})
}
