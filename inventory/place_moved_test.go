package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// TestStationThen: a place that moved twice had two stations before.
func TestStationThen(t *testing.T) {
	p := inventory.Place{Code: "A1", Station: "C"}
	moves := []inventory.PlaceMove{{Place: "A1", Station: "A", Until: 5}, {Place: "B1", Station: "X", Until: 99},
		{Place: "A1", Station: "B", Until: 5}, {Place: "A1", Station: "D", Until: 8}}
	for movement, want := range map[int64]string{1: "A", 5: "A", 6: "D", 8: "D", 9: "C"} {
		assert.Equal(t, want, p.StationThen(movement, moves), movement)
	}
}
