package storetest

import (
	"strconv"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var movementPromises = []promise{
	{"movements are narrowed by each field of the filter", movementsNarrowed},
	{"movements are listed a page at a time, either way", movementsPaged},
}

func movementIDs(c *scene, f inventory.MovementFilter, p inventory.Page) []int64 {
	c.t.Helper()
	var ids []int64
	for _, m := range got(c, func(r inventory.Reader) ([]inventory.Movement, error) { return r.Movements(f, p) }) {
		ids = append(ids, m.ID)
	}
	return ids
}

func movementsNarrowed(c *scene) {
	device := c.device("SN-1")
	split := c.ensure(fullClocks())
	early := move(c.lot, 9, supplier, northStore, inventory.ReasonReceipt)
	early.RecordedAt = noon - 1_000_000
	into := move(c.lot, 1, northStore, bagOne, inventory.ReasonStow)
	into.IntoLotID = split.ID
	gone := move(c.lot, 1, northStore, used, inventory.ReasonUsed)
	gone.Reference = "INC 7"
	a := c.post(early)[0].ID
	b := c.post(into)[0].ID
	d := c.post(move(c.lot, 2, northStore, southStore, inventory.ReasonTransfer))[0].ID
	e := c.post(gone)[0].ID
	f := c.post(move(device, 1, supplier, southStore, inventory.ReasonReceipt))[0].ID
	lent := got(c, bag(bagOne))
	lent.AtStation = south
	c.updateBag(lent)
	for name, try := range map[string]struct {
		filter inventory.MovementFilter
		want   []int64
	}{
		"all":       {inventory.MovementFilter{}, []int64{a, b, d, e, f}},
		"newest":    {inventory.MovementFilter{Newest: true}, []int64{f, e, d, b, a}},
		"station":   {inventory.MovementFilter{Station: north}, []int64{a, b, d, e}},
		"stations":  {inventory.MovementFilter{Stations: []string{south}}, []int64{b, d, f}},
		"place":     {inventory.MovementFilter{Place: southStore}, []int64{d, f}},
		"lot":       {inventory.MovementFilter{LotID: split.ID}, []int64{b}},
		"batch":     {inventory.MovementFilter{Batch: c.batch.ID}, []int64{a, b, d, e}},
		"batches":   {inventory.MovementFilter{Batches: []int64{device.Batch.ID, 999}}, []int64{f}},
		"item":      {inventory.MovementFilter{Item: thermometer}, []int64{f}},
		"reason":    {inventory.MovementFilter{Reason: inventory.ReasonReceipt}, []int64{a, f}},
		"reference": {inventory.MovementFilter{References: []string{"INC 7"}}, []int64{e}},
		"since":     {inventory.MovementFilter{Since: noon}, []int64{b, d, e, f}},
		"several":   {inventory.MovementFilter{Item: bandage, Place: northStore, Reason: inventory.ReasonUsed}, []int64{e}},
		"none":      {inventory.MovementFilter{References: []string{"INC 8"}}, nil},
	} {
		assert.Equal(c.t, try.want, movementIDs(c, try.filter, inventory.Page{}), name)
	}
}

func movementsPaged(c *scene) {
	var ids []int64
	for range 5 {
		ids = append(ids, c.receive(c.lot, 1, northStore).ID)
	}
	after := func(id int64, n int) inventory.Page {
		return inventory.Page{Limit: n, After: strconv.FormatInt(id, 10)}
	}
	all, newest := inventory.MovementFilter{}, inventory.MovementFilter{Newest: true}
	assert.Equal(c.t, ids[:2], movementIDs(c, all, inventory.Page{Limit: 2}))
	assert.Equal(c.t, ids[2:4], movementIDs(c, all, after(ids[1], 2)))
	assert.Equal(c.t, ids[4:], movementIDs(c, all, after(ids[3], 2)))
	assert.Empty(c.t, movementIDs(c, all, after(ids[4], 2)))
	assert.Equal(c.t, []int64{ids[4], ids[3]}, movementIDs(c, newest, inventory.Page{Limit: 2}))
	assert.Equal(c.t, []int64{ids[2], ids[1]}, movementIDs(c, newest, after(ids[3], 2)))
}
