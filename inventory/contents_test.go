package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/storeroom"
)

// TestContentsCard names what the card says of a bag, line by line.
func TestContentsCard(t *testing.T) {
	list := func() *aBag {
		return newBag(
			inventory.Line{Item: "A", Pouch: "Red", Par: 2, Minimum: 1, Accepts: []string{"B"}},
			inventory.Line{Item: "C", Pouch: "Red", PresenceOnly: true},
			inventory.Line{Item: "A", Pouch: "Blue", Par: 1},
			inventory.Line{Item: "D", CarriedElsewhere: "the vehicle"},
		)
	}
	line := func(pouch, item string, qty int) storeroom.ContentsLine {
		return storeroom.ContentsLine{Pouch: pouch, Item: item, Qty: qty}
	}
	for _, c := range []struct {
		name     string
		bag      *aBag
		lines    []storeroom.ContentsLine
		earliest string
	}{
		{"empty: what is not there is not on it", list(), nil, ""},
		{"two lots of one item in a pouch are one line", list().holds("A", 1, "2028-01-31").holds("A", 1, "2029-01-31"),
			[]storeroom.ContentsLine{line("Red", "A", 2)}, "2028-01-31"},
		{"an accepted item stands under its own name", list().holds("A", 1, "").holds("B", 2, "2028-01-31"),
			[]storeroom.ContentsLine{line("Red", "A", 1), line("Red", "B", 2)}, "2028-01-31"},
		{"pouches in the order of the list", list().holds("A", 3, ""),
			[]storeroom.ContentsLine{line("Red", "A", 2), line("Blue", "A", 1)}, ""},
		{"no number where presence is asked for", list().holds("C", 5, "2027-12-31"),
			[]storeroom.ContentsLine{line("Red", "C", 0)}, "2027-12-31"},
		{"what is past its date is still in it, and its date is the earliest", list().holds("A", 1, "2020-01-31").holds("A",
			1, "2030-01-31"),
			[]storeroom.ContentsLine{line("Red", "A", 2)}, "2020-01-31"},
		{"what is not on the list", list().holds("E", 1, "2027-11-30"),
			[]storeroom.ContentsLine{line("Not on the list", "E", 1)}, "2027-11-30"},
		{"units beyond par lie with the rest of their lot", list().holds("A", 5, ""),
			[]storeroom.ContentsLine{line("Red", "A", 4), line("Blue", "A", 1)}, ""},
	} {
		got := storeroom.ContentsCardOf(c.bag.BagView, inventorytest.Noon)
		assert.Equal(t, c.lines, got.Lines, c.name)
		assert.Equal(t, c.earliest, got.Earliest.String(), c.name)
		units := 0
		for _, l := range got.Lines {
			units += l.Qty
		}
		for _, st := range c.bag.Stock {
			if st.Lot.Item != "C" {
				units -= st.Qty
			}
		}
		assert.Zero(t, units, "%s: every unit is on it once", c.name)
	}
}

func TestContentsCardSealAndCheck(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Par: 1})
	b.Bag.BagRecord = inventory.BagRecord{}
	assert.Equal(t, storeroom.ContentsCard{}, storeroom.ContentsCardOf(b.BagView, inventorytest.Noon))
	b.Station.Timezone = "Pacific/Auckland"
	b.Bag.LastFullCheck = inventorytest.At("2027-06-13T13:00:00Z")
	b.Bag.Seal, b.Bag.SealState = "100", inventory.SealIntact
	c := storeroom.ContentsCardOf(b.BagView, inventorytest.Noon)
	assert.Equal(t, "2027-06-14", c.LastFullCheck.String(), "the day at the bag's station")
	assert.Equal(t, "100", c.Seal)
	for _, state := range []inventory.SealState{inventory.SealBroken, inventory.SealDifferent, inventory.SealNone} {
		b.Bag.SealState = state
		assert.Empty(t, storeroom.ContentsCardOf(b.BagView, inventorytest.Noon).Seal,
			"a seal that is not on it is not on the card")
	}
}
