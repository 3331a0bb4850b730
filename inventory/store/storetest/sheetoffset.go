package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var sheetOffsetPromises = []promise{
	{"a sheet's offset is kept for its station, in the place of the one before", sheetOffsetKept},
	{"an offset beyond what a sheet allows is refused, and so is an unknown station", sheetOffsetRefused},
}

func sheetOffsetKept(c *scene) {
	offsets := func(station string) []inventory.SheetOffset {
		return got(c, func(r inventory.Reader) ([]inventory.SheetOffset, error) { return r.SheetOffsets(station) })
	}
	assert.Empty(c.t, offsets(north))
	assert.Empty(c.t, offsets("NONE"))
	for _, o := range []inventory.SheetOffset{
		{Station: north, Sheet: "b", X: 5, Y: -5}, {Station: north, Sheet: "a", X: 0.29, Y: -1.15}, {Station: south,
			Sheet: "a", X: 0.1},
	} {
		c.write(func(w inventory.Writer) error { return w.SetSheetOffset(o) })
	}
	assert.Equal(c.t, []inventory.SheetOffset{{Station: north, Sheet: "a", X: 0.29, Y: -1.15}, {Station: north, Sheet: "b",
		X: 5, Y: -5}}, offsets(north))
	c.write(func(w inventory.Writer) error {
		return w.SetSheetOffset(inventory.SheetOffset{Station: north, Sheet: "a", Y: 2})
	})
	assert.Equal(c.t, []inventory.SheetOffset{{Station: north, Sheet: "a", Y: 2}, {Station: north, Sheet: "b", X: 5,
		Y: -5}}, offsets(north))
	assert.Equal(c.t, []inventory.SheetOffset{{Station: south, Sheet: "a", X: 0.1}}, offsets(south))
}

func sheetOffsetRefused(c *scene) {
	for _, o := range []inventory.SheetOffset{
		{Station: north, Sheet: "a", X: 5.01}, {Station: north, Sheet: "a", Y: -5.01}, {Station: north}, {Station: "NONE",
			Sheet: "a"},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.SetSheetOffset(o) })
	}
}
