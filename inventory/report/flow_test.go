package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/report"
)

// TestFlowsOf adds up movements that were written down by hand.
func TestFlowsOf(t *testing.T) {
	places := report.FlowPlaces{All: map[string]inventory.Place{"STORE": {Code: "STORE", Purpose: inventory.ForIssue},
		"CLASS": {Code: "CLASS", Purpose: inventory.ForTraining}}}
	move := func(id int64, qty int, from, to string, reason inventory.Reason, cause inventory.Cause,
		d string) inventory.Movement {
		return inventory.Movement{ID: id, LotID: 1, Qty: qty, From: from, To: to, Reason: reason, Cause: cause,
			HappenedAt: inventorytest.At(d + "T12:00:00Z")}
	}
	ms := []inventory.Movement{
		move(1, 100, "supplier", "STORE", inventory.ReasonReceipt, "", "2027-01-01"),
		move(2, 7, "STORE", "used", inventory.ReasonUsed, "", "2027-01-02"),
		move(3, 20, "STORE", "CLASS", inventory.ReasonToTraining, "", "2027-02-01"),
		move(4, 5, "CLASS", "used", inventory.ReasonUsed, "", "2027-02-02"),
		move(5, 2, "CLASS", "disposed", inventory.ReasonDisposed, inventory.CauseDamaged, "2027-02-03"),
		move(6, 3, "STORE", "disposed", inventory.ReasonDisposed, inventory.CauseExpired, "2027-02-04"),
		move(7, 4, "STORE", "disposed", inventory.ReasonDisposed, inventory.CauseTraining, "2027-02-04"),
		move(8, 6, "STORE", "lost", inventory.ReasonLost, inventory.CauseMissing, "2027-02-05"),
		move(9, 1, "found", "STORE", inventory.ReasonFound, "", "2027-02-06"),
		move(10, 8, "STORE", "ELSEWHERE", inventory.ReasonTransfer, "", "2027-02-07"),
		move(11, 2, "ELSEWHERE", "STORE", inventory.ReasonTransfer, "", "2027-02-08"),
		move(12, 1, "lost", "STORE", inventory.ReasonFound, "", "2027-02-09"),
		{ID: 13, LotID: 1, Qty: 3, From: "disposed", To: "STORE", Reason: inventory.ReasonCorrection, Corrects: 6,
			HappenedAt: inventorytest.At("2027-02-10T12:00:00Z")},
		move(15, 10, "STORE", "supplier", inventory.ReasonToSupplier, "", "2027-02-11"),
		{ID: 16, LotID: 1, Qty: 10, From: "supplier", To: "STORE", Reason: inventory.ReasonCorrection, Corrects: 15,
			HappenedAt: inventorytest.At("2027-02-12T12:00:00Z")},
		move(17, 9, "STORE", "supplier", inventory.ReasonToSupplier, "", "2027-02-13"),
		move(18, 13, "STORE", "found", inventory.ReasonConverted, "", "2027-03-02"),
		move(19, 26, "found", "STORE", inventory.ReasonConverted, "", "2027-03-02"),
		move(14, 50, "STORE", "used", inventory.ReasonUsed, "", "2027-03-01"),
	}
	dayOf := func(m inventory.Movement) inventory.Day { return m.HappenedAt.In(inventorytest.UtcZone) }
	items := map[int64]string{1: "GAUZE"}
	got := report.FlowsOf(ms, items, places, dayOf, inventorytest.Day("2027-02-01"), inventorytest.Day("2027-02-28"))
	want := report.Flow{Item: "GAUZE", Before: 93, Found: 1, MovedIn: 2, Trained: 9, Wasted: map[inventory.Cause]int{},
		TrainingWasted: 2, Lost: 5, ToSupplier: 9, MovedOut: 8, Stock: 63}
	require.Len(t, got.Rows, 1)
	assert.Equal(t, want, got.Rows[0])
	assert.True(t, got.Rows[0].Balanced())
	before := report.FlowsOf(ms, items, places, dayOf, 0, inventorytest.Day("2027-02-04"))
	assert.Equal(t, map[inventory.Cause]int{inventory.CauseExpired: 3}, before.Rows[0].Wasted, "until it was corrected")
	assert.Equal(t, 3, before.Total.Waste())
	all := report.FlowsOf(ms, items, places, dayOf, 0, 0)
	assert.Equal(t, 57, all.Rows[0].Used)
	assert.Equal(t, 13, all.Rows[0].Converted)
	assert.Equal(t, 26, all.Total.Stock)
	assert.True(t, all.Total.Balanced())
	broken := all.Total
	broken.Used++
	assert.False(t, broken.Balanced())
}
