package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
)

// TestOfferedPoints: the defaults are common practice; each kind has some, and
// for a windlass tourniquet the loss of the time patch is a note only.
func TestOfferedPoints(t *testing.T) {
	var kinds []string
	for _, p := range lists.OfferedPoints() {
		kinds = append(kinds, p.Kind)
		it := inventory.Item{Code: "X", Name: "x", Category: "other", Unit: "each", TrackedBy: inventory.BySerial,
			InspectionPoints: p.Points, InspectionNotes: p.Notes}
		assert.NoError(t, it.Check(inventory.Categories), p.Kind)
		assert.NotEmpty(t, p.Points)
		assert.NotNil(t, p.Notes)
	}
	assert.Equal(t, []string{"light source", "oxygen mask", "shears", "splint", "windlass tourniquet"}, kinds)
	assert.Len(t, lists.WindlassPoints, 7)
	assert.Equal(t, []string{"time patch still stuck"}, lists.WindlassNotes)
	twice := inventory.Item{Code: "X", Name: "x", Category: "other", Unit: "each", TrackedBy: inventory.BySerial,
		InspectionPoints: []string{"a"}, InspectionNotes: []string{"a"}}
	inventorytest.RequireFields(t, twice.Check(inventory.Categories), "inspection_notes")
}
