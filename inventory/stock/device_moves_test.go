package stock_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestNextDue: the earlier of inspection and governing date is what is due.
func TestNextDue(t *testing.T) {
	for _, c := range []struct{ inspection, through, want string }{
		{"", "", ""}, {"2027-01-02", "", "2027-01-02"}, {"", "2027-01-03", "2027-01-03"},
		{"2027-01-02", "2027-01-03", "2027-01-02"}, {"2027-01-04", "2027-01-03", "2027-01-03"},
	} {
		d := stock.DeviceSummary{InspectionDue: inventorytest.Day(c.inspection)}
		d.UsableThrough = inventorytest.Day(c.through)
		assert.Equal(t, inventorytest.Day(c.want), d.NextDue(), c)
	}
	device := func(name, serial, due string) stock.DeviceSummary {
		d := stock.DeviceSummary{Name: name, InspectionDue: inventorytest.Day(due)}
		d.Serial = serial
		return d
	}
	inOrder := []stock.DeviceSummary{device("B", "9", "2027-01-01"), device("A", "A9", "2027-01-02"), device("A", "A10",
		"2027-01-02"), device("B", "1", "2027-01-02"), device("A", "1", "")}
	for i := range len(inOrder) - 1 {
		assert.Negative(t, stock.CompareDue(inOrder[i], inOrder[i+1]), i)
		assert.Positive(t, stock.CompareDue(inOrder[i+1], inOrder[i]), i)
	}
}

// TestMayGoToTraining: issue stock that the table lets go, medicines never.
func TestMayGoToTraining(t *testing.T) {
	plain, tablet := inventory.Item{Category: inventory.CategoryPlainDressing},
		inventory.Item{Category: inventory.CategoryMedicine}
	place := func(k inventory.PlaceKind, p inventory.Purpose) inventory.Place {
		return inventory.Place{Code: "P", Kind: k, Purpose: p}
	}
	for _, k := range []inventory.PlaceKind{inventory.KindStore, inventory.KindBag, inventory.KindCarrier,
		inventory.KindQuarantine} {
		assert.True(t, stock.MayGoToTraining(plain, inventory.Lot{}, place(k, inventory.ForIssue)), k)
		assert.False(t, stock.MayGoToTraining(tablet, inventory.Lot{}, place(k, inventory.ForIssue)), k)
		assert.False(t, stock.MayGoToTraining(plain, inventory.Lot{Clocks: inventory.Clocks{Training: true}},
			place(k, inventory.ForTraining)), k)
	}
	assert.False(t, stock.MayGoToTraining(plain, inventory.Lot{}, place(inventory.KindAway, inventory.ForIssue)))
	assert.False(t, stock.MayGoToTraining(plain, inventory.Lot{Clocks: inventory.Clocks{Unidentified: true}},
		place(inventory.KindStore, inventory.ForIssue)))
	withdrawn := inventory.Lot{Batch: inventory.Batch{BatchRecord: inventory.BatchRecord{Withdrawn: []string{"RC-1"}}}}
	assert.False(t, stock.MayGoToTraining(plain, withdrawn, place(inventory.KindStore, inventory.ForIssue)))
}

func TestEndsWithin(t *testing.T) {
	today, ends := inventorytest.Day("2026-11-25"), func(s string) inventory.Lot {
		return inventory.Lot{Batch: inventory.Batch{LastUsable: inventorytest.Day(s)}}
	}
	assert.False(t, stock.EndsWithin(inventory.Item{}, inventory.Lot{}, today, 30), "undated")
	assert.True(t, stock.EndsWithin(inventory.Item{}, ends("2026-11-01"), today, 30), "past")
	assert.True(t, stock.EndsWithin(inventory.Item{}, ends("2026-12-25"), today, 30))
	assert.False(t, stock.EndsWithin(inventory.Item{}, ends("2026-12-26"), today, 30))
}

func TestMayOpen(t *testing.T) {
	limited := inventory.Item{Life: inventory.Life{OpenedDays: 7}}
	assert.True(t, stock.MayOpen(limited, inventory.Lot{}))
	assert.False(t, stock.MayOpen(inventory.Item{}, inventory.Lot{}))
	assert.False(t, stock.MayOpen(limited, inventory.Lot{Clocks: inventory.Clocks{OpenedOn: inventorytest.Day(
		"2026-11-25")}}))
}

// TestMayRelease: from quarantine to stores of the same purpose only.
func TestMayRelease(t *testing.T) {
	place := func(code string, k inventory.PlaceKind, p inventory.Purpose) inventory.Place {
		return inventory.Place{Code: code, Kind: k, Purpose: p}
	}
	apart, store := place("Q", inventory.KindQuarantine, inventory.ForIssue), place("S", inventory.KindStore,
		inventory.ForIssue)
	bag, train := place("B", inventory.KindBag, inventory.ForIssue), place("T", inventory.KindStore, inventory.ForTraining)
	assert.True(t, stock.MayRelease(apart, store))
	assert.False(t, stock.MayRelease(apart, bag))
	assert.False(t, stock.MayRelease(apart, train))
	assert.True(t, stock.MayRelease(store, bag))
	assert.True(t, stock.MayRelease(bag, store))
	assert.False(t, stock.MayRelease(store, store))
	assert.False(t, stock.MayRelease(store, apart))
}

// TestOpenableIn lists what can be opened in a bag; once opened it is not
// among it, and the rest still is.
func TestOpenableIn(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	wash := h.Receive("WASH", "W1", 5, "2028-02")
	h.Move(wash.ID, 2, "NORTH-STORE", "N-01", inventory.ReasonStow)
	can, err := h.S.Stock.Openable(h.Ctx, fixture.Crew, "N-01")
	require.NoError(t, err)
	assert.Equal(t, map[int64]bool{wash.ID: true}, can)
	_, err = h.S.Ledger.OpenUnits(h.Ctx, fixture.Crew, wash.ID, ledger.Opened{Place: "N-01", Qty: 2})
	require.NoError(t, err)
	can, err = h.S.Stock.Openable(h.Ctx, fixture.Crew, "N-01")
	require.NoError(t, err)
	assert.Empty(t, can)
	_, err = h.S.Stock.Openable(h.Ctx, fixture.Crew, "S-01")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Stock.Openable(h.Ctx, fixture.Manager, "N-01")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestTrainingDevices lists what a class can train with, and no issue device.
func TestTrainingDevices(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, serial := range []string{"S10", "S9", "S1", "S2"} {
		h.Receive("SPLINT", serial, 1, "")
	}
	given := map[string]string{"S10": "NORTH-TRAINING", "S9": "T-01", "S1": "NORTH-TRAINING"}
	for serial, to := range given {
		lots, err := h.S.Stock.Devices(h.Ctx, fixture.Keeper, stock.DeviceFilter{Serial: serial}, inventory.Page{})
		require.NoError(t, err)
		m := h.Move(lots[0].ID, 1, "NORTH-STORE", to, inventory.ReasonToTraining)
		if serial == "S1" {
			h.Move(m.IntoLotID, 1, to, "NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine)
		}
	}
	found, err := h.S.Stock.TrainingDevices(h.Ctx, fixture.Keeper, "NORTH")
	require.NoError(t, err)
	var serials []string
	for _, d := range found {
		serials = append(serials, d.Serial)
	}
	assert.Equal(t, []string{"S9", "S10"}, serials)
	found, err = h.S.Stock.TrainingDevices(h.Ctx, fixture.Keeper, "SOUTH")
	require.NoError(t, err)
	assert.Empty(t, found)
	_, err = h.S.Stock.TrainingDevices(h.Ctx, fixture.Crew, "SOUTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestReleaseDevice: only what passed with a quartermaster goes back.
func TestReleaseDevice(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("SPLINT", "S1", 1, "")
	h.Move(lot.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
	h.Pass(time.Minute)
	inventorytest.RequireKind(t, inventory.Conflict, h.S.Stock.ReleaseDevice(h.Ctx, fixture.Keeper, lot.ID, "NORTH-STORE"))
	_, err := h.S.Ledger.Inspect(h.Ctx, fixture.Keeper, lot.ID,
		ledger.InspectionReport{Points: inventorytest.Answers("frame whole",
			"straps hold")})
	require.NoError(t, err)
	inventorytest.RequireKind(t, inventory.Forbidden, h.S.Stock.ReleaseDevice(h.Ctx, fixture.Crew, lot.ID, "NORTH-STORE"))
	inventorytest.RequireFields(t, h.S.Stock.ReleaseDevice(h.Ctx, fixture.Keeper, lot.ID, "NOWHERE"), "release_to")
	inventorytest.RequireKind(t, inventory.Conflict, h.S.Stock.ReleaseDevice(h.Ctx, fixture.Keeper, lot.ID, "N-01"))
	require.NoError(t, h.S.Stock.ReleaseDevice(h.Ctx, fixture.Keeper, lot.ID, "north-store"))
	assert.Equal(t, map[int64]int{lot.ID: 1}, h.Holds("NORTH-STORE"))
	h.Verify()
}
