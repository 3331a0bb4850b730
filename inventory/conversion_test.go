package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

var boxes = inventory.Conversion{Item: "GLOVE", OldUnit: "pair", NewUnit: "box", Old: 100, New: 1, Until: 7,
	RecordedAt: inventorytest.At("2027-06-14T12:00:00Z")}

// TestConversionOf: what is not whole in the new unit is told.
func TestConversionOf(t *testing.T) {
	for _, c := range []struct {
		old, new, qty, want int
		whole               bool
	}{{100, 1, 300, 3, true}, {100, 1, 250, 2, false}, {1, 50, 3, 150, true}, {2, 3, 4, 6, true}, {2, 3, 3, 4, false},
		{1, 1, 7, 7, true}} {
		got, whole := inventory.Conversion{Old: c.old, New: c.new}.Of(c.qty)
		assert.Equal(t, []any{c.want, c.whole}, []any{got, whole}, c)
	}
	assert.Equal(t, "100 pair = 1 box", boxes.Text().String())
}

// TestInOldUnit: what was recorded, or happened, before the unit changed counts in the old one.
func TestInOldUnit(t *testing.T) {
	before, after := boxes.RecordedAt-1, boxes.RecordedAt+1
	renamed := boxes
	renamed.New = 100
	for _, c := range []struct {
		name     string
		of       inventory.Conversion
		item     string
		movement int64
		at       inventory.Instant
		refused  bool
	}{
		{"an older record", boxes, "GLOVE", 7, 0, true}, {"a newer one", boxes, "GLOVE", 8, 0, false},
		{"another item", boxes, "GAUZE", 7, before, false}, {"only renamed", renamed, "GLOVE", 7, before, false},
		{"happened before", boxes, "GLOVE", 0, before, true}, {"happened since", boxes, "GLOVE", 0, after, false},
		{"happens now", boxes, "GLOVE", 0, after + 1, false},
	} {
		err := inventory.InOldUnit([]inventory.Conversion{c.of}, c.item, inventory.Movement{ID: c.movement}, c.at, after+1)
		if c.refused {
			inventorytest.RequireKind(t, inventory.Conflict, err)
		} else {
			assert.NoError(t, err, c.name)
		}
	}
}

// TestUsageIn: months that are no whole boxes add up to what they were.
func TestUsageIn(t *testing.T) {
	row := func(station string, qty int) inventory.PastUsage {
		return inventory.PastUsage{Station: station, Qty: qty}
	}
	assert.Equal(t, []inventory.PastUsage{row("N", 0), row("N", 1), row("N", 1), row("N", 0), row("S", 1)},
		boxes.UsageIn([]inventory.PastUsage{row("N", 40), row("N", 80), row("N", 40), row("N", 40), row("S", 60)}))
}
