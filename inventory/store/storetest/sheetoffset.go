package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var sheetOffsetPromises = []promise{
	{"a sheet's offset is kept for its site, in the place of the one before", sheetOffsetKept},
	{"an offset beyond what a sheet allows is refused, and so is an unknown site", sheetOffsetRefused},
}

func sheetOffsetKept(c *scene) {
	offsets := func(site string) []inventory.SheetOffset {
		return got(c, func(r inventory.Reader) ([]inventory.SheetOffset, error) { return r.SheetOffsets(site) })
	}
	assert.Empty(c.t, offsets(north))
	assert.Empty(c.t, offsets("NONE"))
	for _, o := range []inventory.SheetOffset{
		{Site: north, Sheet: "b", X: 5, Y: -5}, {Site: north, Sheet: "a", X: 0.29, Y: -1.15}, {Site: south, Sheet: "a", X: 0.1},
	} {
		c.write(func(w inventory.Writer) error { return w.SetSheetOffset(o) })
	}
	assert.Equal(c.t, []inventory.SheetOffset{{Site: north, Sheet: "a", X: 0.29, Y: -1.15}, {Site: north, Sheet: "b", X: 5, Y: -5}}, offsets(north))
	c.write(func(w inventory.Writer) error {
		return w.SetSheetOffset(inventory.SheetOffset{Site: north, Sheet: "a", Y: 2})
	})
	assert.Equal(c.t, []inventory.SheetOffset{{Site: north, Sheet: "a", Y: 2}, {Site: north, Sheet: "b", X: 5, Y: -5}}, offsets(north))
	assert.Equal(c.t, []inventory.SheetOffset{{Site: south, Sheet: "a", X: 0.1}}, offsets(south))
}

func sheetOffsetRefused(c *scene) {
	for _, o := range []inventory.SheetOffset{
		{Site: north, Sheet: "a", X: 5.01}, {Site: north, Sheet: "a", Y: -5.01}, {Site: north}, {Site: "NONE", Sheet: "a"},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.SetSheetOffset(o) })
	}
}
