package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestPickOrder: first expired first out, undated last, then first received, then the lower id: WHO good distribution
// practices, Annex 5, for the first of them.
func TestPickOrder(t *testing.T) {
	june, july := inventorytest.Day("2027-06-30"), inventorytest.Day("2027-07-31")
	lot := func(id int64, received string) inventory.Lot {
		l := inventory.Lot{ID: id}
		l.ReceivedOn = inventorytest.Day(received)
		return l
	}
	old, recent, twin := lot(9, "2027-01-02"), lot(3, "2027-05-02"), lot(4, "2027-05-02")
	for _, c := range []struct {
		name                  string
		first, second         inventory.Lot
		firstEnds, secondEnds inventory.Day
	}{
		{"the earlier date, though received later", recent, old, june, july},
		{"a date before none", recent, old, july, 0},
		{"on one date the one received first", old, recent, june, june},
		{"neither dated: the one received first", old, recent, 0, 0},
		{"received on one day: the lower id", recent, twin, june, june},
	} {
		assert.Negative(t, inventory.PickOrder(c.first, c.second, c.firstEnds, c.secondEnds), c.name)
		assert.Positive(t, inventory.PickOrder(c.second, c.first, c.secondEnds, c.firstEnds), c.name)
	}
	assert.Zero(t, inventory.PickOrder(old, old, june, june))
}
