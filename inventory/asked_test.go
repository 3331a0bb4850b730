package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestAskedForWhatIsNot: a list narrowed to a code that does not exist is not
// an empty list.
func TestAskedForWhatIsNot(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		none, ask := []string{"NONE"}, lists.Outlook{Horizon: -1}
		for name, list := range map[string]func(inventory.Actor) error{
			"places": func(by inventory.Actor) error {
				_, err := h.s.Lists.Places(h.ctx, by, inventory.PlaceFilter{Stations: none}, inventory.Page{})
				return err
			},
			"lots": func(by inventory.Actor) error {
				_, err := h.s.Stock.Lots(h.ctx, by, inventory.LotFilter{Stations: none}, 0, inventory.Page{})
				return err
			},
			"lots in a place": func(by inventory.Actor) error {
				_, err := h.s.Stock.Lots(h.ctx, by, inventory.LotFilter{Place: "NONE"}, 0, inventory.Page{})
				return err
			},
			"movements": func(by inventory.Actor) error {
				_, err := h.s.Ledger.Movements(h.ctx, by, inventory.MovementFilter{Stations: none}, inventory.Page{})
				return err
			},
			"movements of a place": func(by inventory.Actor) error {
				_, err := h.s.Ledger.Movements(h.ctx, by, inventory.MovementFilter{Place: "NONE"}, inventory.Page{})
				return err
			},
			"bags with states": func(by inventory.Actor) error {
				_, err := h.s.Shift.BagList(h.ctx, by, inventory.BagFilter{AtStations: none}, inventory.Page{}, ask)
				return err
			},
			"bags of a list": func(by inventory.Actor) error {
				_, err := h.s.Shift.BagList(h.ctx, by, inventory.BagFilter{KitList: "NONE"}, inventory.Page{}, ask)
				return err
			},
			"bags inside": func(by inventory.Actor) error {
				_, err := h.s.Storeroom.Bags(h.ctx, by, inventory.BagFilter{Inside: "NONE"}, inventory.Page{})
				return err
			},
			"shortages": func(by inventory.Actor) error { _, err := h.s.Report.Shortages(h.ctx, by, none, ask); return err },
			"desk":      func(by inventory.Actor) error { _, err := h.s.Storeroom.Desk(h.ctx, by, none); return err },
			"checks": func(by inventory.Actor) error {
				_, err := h.s.Shift.Checks(h.ctx, by, inventory.RecordFilter{AtStations: none}, inventory.Page{})
				return err
			},
			"observations": func(by inventory.Actor) error {
				_, err := h.s.Storeroom.Observations(h.ctx, by, "", inventory.ObservationFilter{AtStations: none})
				return err
			},
		} {
			for _, by := range []inventory.Actor{admin, keeper} {
				assert.Equal(t, inventory.NotFound, inventory.KindOf(list(by)), "%s for %s: %v", name, by.Name, list(by))
			}
		}
		_, err := h.s.Stock.Lots(h.ctx, crew, inventory.LotFilter{Place: "SOUTH-STORE"}, 0, inventory.Page{})
		requireKind(t, inventory.Forbidden, err)
		lots, err := h.s.Stock.Lots(h.ctx, crew, inventory.LotFilter{Place: "NORTH-STORE"}, 0, inventory.Page{})
		require.NoError(t, err)
		assert.Empty(t, lots)
	})
}

// TestLotElsewhere: a lot of which no unit is or was at one's own stations is
// no lot to ask for.
func TestLotElsewhere(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		south := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
		lot := func(by inventory.Actor, id int64) error { _, err := h.s.Stock.Lot(h.ctx, by, id); return err }
		requireKind(t, inventory.NotFound, lot(south, h.dressings.ID))
		require.NoError(t, lot(crew, h.dressings.ID))
		require.NoError(t, lot(manager, h.dressings.ID))
		h.move(h.dressings.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		require.NoError(t, lot(south, h.dressings.ID))
		h.move(h.dressings.ID, 1, "SOUTH-STORE", "used", inventory.ReasonUsed)
		require.NoError(t, lot(south, h.dressings.ID), "it was there")
		requireKind(t, inventory.NotFound, lot(south, h.pens.ID))
		_, err := h.s.Lists.UpdateBag(h.ctx, admin, "N-01", 0, ledger.BagChange{AtStation: ptr("SOUTH")})
		require.NoError(t, err)
		require.NoError(t, lot(south, h.pens.ID), "it came in a bag that was lent")
	})
}

// TestLotsAsOf: the dates of lots that ride exposed are worked out for the day
// asked about.
func TestLotsAsOf(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		lot := h.receive("GAUZE", "G1", 2, "2029-01")
		on := h.move(lot.ID, 2, "NORTH-STORE", "N-BELT", inventory.ReasonStow).IntoLotID
		now, err := h.s.Stock.Lot(h.ctx, crew, on)
		require.NoError(t, err)
		h.move(on, 1, "N-BELT", "NORTH-STORE", inventory.ReasonReturn)
		assert.Equal(t, inventory.EndRule("exposed"), now.Rule)
		for _, asOf := range []string{"2027-06-14", "2027-06-20", "2027-09-01"} {
			one, err := h.s.Stock.LotAsOf(h.ctx, crew, on, day(asOf))
			require.NoError(t, err)
			all, err := h.s.Stock.Lots(h.ctx, crew, inventory.LotFilter{Place: "N-BELT", AsOf: day(asOf)}, 0, inventory.Page{})
			require.NoError(t, err)
			require.Len(t, all, 1)
			want := inventory.Ends(houseItems[1], one.Lot, day(asOf))
			assert.Equal(t, want, one.Ends)
			assert.Equal(t, want, all[0].Ends)
		}
	})
}

// TestShortagesClockOfShownStations: a report for a station where the day asked
// about is today leaves no clock out, whatever day it is elsewhere.
func TestShortagesClockOfShownStations(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.now = at("2027-06-14T13:00:00Z") // the next day in Auckland
	for station, left := range map[string]bool{"NORTH": false, "SOUTH": true} {
		rep, err := h.s.Report.Shortages(h.ctx, keeper, []string{station}, lists.Outlook{AsOf: day("2027-06-14"),
			Horizon: -1})
		require.NoError(t, err)
		assert.Equal(t, left, rep.ClockLeft, station)
	}
}

// TestEndsBeforeFromTheDayAsked: what ends before the next check is counted
// from the day asked about.
func TestEndsBeforeFromTheDayAsked(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	lot := h.receive("DRESSING", "B1", 4, "2027-09-10")
	h.restock("N-01", "100", inventory.RestockLine{LotID: lot.ID, Qty: 4})
	ends := func(asOf string) int {
		c, err := h.s.Shift.Checklist(h.ctx, crew, "N-01", lists.Outlook{AsOf: day(asOf), Horizon: -1})
		require.NoError(t, err)
		return len(c.EndsBefore)
	}
	assert.Zero(t, ends(""))
	assert.Zero(t, ends("2027-09-09"))
	assert.Equal(t, 1, ends("2027-09-10"), "it ends before the check of the next day")
}
