package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
)

// TestMayClose: what is in the way is named, each place once; of all that moves as a whole only what cannot.
func TestMayClose(t *testing.T) {
	at := func(place string, lot int64, n int) inventory.Stock {
		return inventory.Stock{Place: place, Lot: inventory.Lot{ID: lot}, Qty: n}
	}
	places := map[string]inventory.Place{"STORE": {Code: "STORE", Kind: inventory.KindStore},
		"BAG": {Code: "BAG", Kind: inventory.KindBag}, "BELT": {Code: "BELT", Kind: inventory.KindCarrier}}
	for want, h := range map[string]lists.StationHolds{
		"": {}, "A1, B2": {Bags: []inventory.Bag{{Code: "A1"}, {Code: "B2"}}},
		"BAG, 7 in STORE, 1 in BELT": {Bags: []inventory.Bag{{Code: "BAG"}}, Places: places,
			Stock: []inventory.Stock{at("BAG", 1, 9), at("STORE", 1, 3), at("STORE", 2, 4), at("BELT", 3, 1)}},
		"Van 1: Out of service":         {Vehicles: []string{"Van 1"}},
		"Delivery: 2, 1 signature owed": {Deliveries: 2, Owed: 1},
	} {
		alone, whole := h.MayClose(false), h.MayClose(true)
		if want == "" {
			assert.NoError(t, alone)
			continue
		}
		inventorytest.RequireKind(t, inventory.Conflict, alone)
		assert.Equal(t, "conflict: still at this station: "+want, alone.Error())
		if len(h.Bags) > 0 {
			assert.NoError(t, whole, want)
		} else {
			inventorytest.RequireKind(t, inventory.Conflict, whole)
		}
	}
	assert.Error(t, inventory.Station{ClosedAt: 1}.MustBeOpen())
	assert.NoError(t, inventory.Station{}.MustBeOpen())
}
