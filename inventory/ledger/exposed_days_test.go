package ledger_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// onBelt is a house with five mounts of an item that may be carried for three days, at midnight on a Monday.
func onBelt(t *testing.T, s inventory.Store) (*fixture.House, inventory.Lot) {
	h := fixture.New(t, s)
	_, err := h.S.Lists.CreateItem(h.Ctx, fixture.Admin, inventory.Item{Code: "MOUNT", Name: "Mount", Category: "other",
		Unit: "each", TrackedBy: inventory.ByLot, Life: inventory.Life{ExposedDays: 3}})
	require.NoError(t, err)
	lot := h.Receive("MOUNT", "M1", 5, "")
	h.Now = inventory.InstantOf(time.Date(2027, 6, 20, 23, 0, 0, 0, time.UTC)) // Monday the 21st has begun in London
	return h, lot
}

// ride moves one mount onto the belt and back, some hours from now, and returns the lot that it is then.
func ride(h *fixture.House, lot int64, out, back time.Duration) int64 {
	began := h.Now
	h.Pass(out)
	onto := h.Move(lot, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
	h.Pass(back - out)
	off := h.Move(onto.IntoLotID, 1, "N-BELT", "NORTH-STORE", inventory.ReasonReturn)
	h.Now = began
	return off.IntoLotID
}

// TestDayShiftsSpendDays: on a belt from 08:00 to 20:00, day after day, a mount with a limit of three days is at its
// end on the third, wherever it lies, and is picked for nothing from then on.
func TestDayShiftsSpendDays(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h, lot := onBelt(t, s)
		mount, day := lot.ID, 24*time.Hour
		for i, want := range []string{"1 ", "2 ", "3 2027-06-23 exposed", "4 2027-06-23 exposed", "5 2027-06-23 exposed"} {
			mount = ride(h, mount, 8*time.Hour, 20*time.Hour)
			l := h.Lot(mount)
			assert.Equal(t, want, fmt.Sprint(l.ExposedDays, " ", endText(l.UsableThrough), l.Rule), "day %d", i+1)
			h.Pass(day)
		}
	})
}

func endText(d inventory.Day) string {
	if d == 0 {
		return ""
	}
	return d.String() + " "
}

// TestDaysSpentOnACarrier walks rides that are short, long, undone, or touch midnight.
func TestDaysSpentOnACarrier(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h, lot := onBelt(t, s)
		days := func(lot int64) int { return h.Lot(lot).ExposedDays }
		onto := h.Move(lot.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
		assert.Equal(t, "2027-06-23", h.Lot(onto.IntoLotID).UsableThrough.String(), "out from Monday, it ends on Wednesday")
		h.Pass(40 * time.Hour) // today is spent
		assert.Equal(t, "2027-06-23", h.Lot(onto.IntoLotID).UsableThrough.String())
		assert.Equal(t, 2, h.Lot(onto.IntoLotID).DaysExposed(inventory.MustDay("2027-06-22")))
		undone, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: onto.IntoLotID, Qty: 1,
			From: "N-BELT", To: "NORTH-STORE", Reason: inventory.ReasonCorrection, Corrects: onto.ID}})
		require.NoError(t, err)
		assert.Equal(t, []any{lot.ID, 0}, []any{undone[0].IntoLotID, days(undone[0].IntoLotID)}, "undone, it spends nothing")
		h.Pass(-40 * time.Hour)

		assert.Equal(t, 1, days(ride(h, lot.ID, 0, 24*time.Hour)), "back at 00:00, Tuesday is not spent")
		assert.Equal(t, 2, days(ride(h, lot.ID, 0, 24*time.Hour+time.Microsecond)))
		assert.Equal(t, 2, days(ride(h, lot.ID, 23*time.Hour, 25*time.Hour)), "a night shift spends two")
		twice := ride(h, lot.ID, 8*time.Hour, 9*time.Hour)
		assert.Equal(t, 1, days(ride(h, twice, 10*time.Hour, 11*time.Hour)), "a day once")
		assert.Equal(t, 2, days(ride(h, twice, 22*time.Hour, 26*time.Hour)), "and the next one besides")
		assert.Equal(t, 2, days(ride(h, twice, 30*time.Hour, 31*time.Hour)))

		worn := lot.ID
		for i := range time.Duration(3) {
			worn = ride(h, worn, (8+24*i)*time.Hour, (20+24*i)*time.Hour)
		}
		l := h.Lot(worn)
		assert.Equal(t, []any{3, "2027-06-23"}, []any{l.ExposedDays, l.UsableThrough.String()})
		_, err = h.S.Lists.CreateKitList(h.Ctx, fixture.Admin, inventory.KitList{Code: "RIG", Name: "Rig",
			Lines: []inventory.Line{{Item: "MOUNT", Par: 5}}})
		require.NoError(t, err)
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Admin, inventory.Bag{Code: "N-09", Station: "NORTH", Name: "Rig",
			KitList: "RIG", Priority: 1})
		require.NoError(t, err)
		h.Pass(60 * time.Hour) // Wednesday
		plan, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-09", lists.Outlook{})
		require.NoError(t, err)
		require.NotEmpty(t, plan.Lines)
		for _, p := range plan.Lines {
			assert.NotEqual(t, worn, p.LotID, "at the limit it is not picked")
		}
		h.Verify()
	})
}

// TestDaysSpentByTheStationsCalendar: noon in London is the next day in Auckland; what counts is the carrier's station.
func TestDaysSpentByTheStationsCalendar(t *testing.T) {
	t.Parallel()
	h, lot := onBelt(t, storetest.OpenSQLite(t))
	_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "S-BELT", Station: "SOUTH",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Belt"})
	require.NoError(t, err)
	h.Move(lot.ID, 5, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	h.Pass(10 * time.Hour) // 21:00 in Auckland
	onto := h.Move(lot.ID, 1, "SOUTH-STORE", "S-BELT", inventory.ReasonStow)
	h.Pass(4 * time.Hour) // past midnight there, and a quarter past three in the afternoon in London
	off := h.Move(onto.IntoLotID, 1, "S-BELT", "NORTH-STORE", inventory.ReasonReturn)
	l := h.Lot(off.IntoLotID)
	assert.Equal(t, []any{2, "2027-06-22"}, []any{l.ExposedDays, l.ExposedLast.String()})
}

// TestDaysSpentProperty rides one mount at random hours, and counts the dates of its rides on the fingers.
func TestDaysSpentProperty(t *testing.T) {
	t.Parallel()
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		it := inventory.Item{Life: inventory.Life{ExposedDays: rapid.IntRange(1, 6).Draw(t, "limit")}}
		belt := inventory.Place{Kind: inventory.KindCarrier, Purpose: inventory.ForIssue}
		shelf := inventory.Place{Kind: inventory.KindStore, Purpose: inventory.ForIssue}
		station := inventory.Station{Timezone: "Europe/London"}
		now := inventorytest.Noon
		var c inventory.Clocks
		spent := map[string]bool{}
		for range rapid.IntRange(1, 8).Draw(t, "rides") {
			now = now.Add(time.Duration(rapid.IntRange(0, 40).Draw(t, "inside")) * time.Hour)
			out := now
			c = inventory.ClocksAfter(it, c, belt, station.Today(now), station.Today(now-1))
			now = now.Add(time.Duration(rapid.IntRange(1, 60).Draw(t, "outside")) * time.Hour)
			for at := out; at < now; at = at.Add(30 * time.Minute) { // offsets are whole half hours
				spent[at.Time().In(london).Format(time.DateOnly)] = true
			}
			if got := c.DaysExposed(station.Today(now - 1)); got != len(spent) {
				t.Fatalf("riding: %d, and it was out on %v", got, slices.Sorted(maps.Keys(spent)))
			}
			c = inventory.ClocksAfter(it, c, shelf, station.Today(now), station.Today(now-1))
			if c.ExposedDays != len(spent) || c.ExposedLast.String() != slices.Max(slices.Collect(maps.Keys(spent))) {
				t.Fatalf("inside: %+v, and it was out on %v", c, slices.Sorted(maps.Keys(spent)))
			}
			end := inventory.UsableThrough(it, inventory.Lot{Clocks: c}, station.Today(now))
			if at := slices.Sorted(maps.Keys(spent)); (end != 0) != (len(at) >= it.Life.ExposedDays) || end != 0 &&
				len(at) == it.Life.ExposedDays && end.String() != at[len(at)-1] {
				t.Fatalf("a limit of %d, out on %v: %s", it.Life.ExposedDays, at, end)
			}
		}
	})
}
