package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var stockPromises = []promise{
	{"stock is read by place and lot, with its lot's facts", stockRead},
	{"stock is narrowed by each field of the filter", stockNarrowed},
}

func stock(c *scene, f inventory.StockFilter) []inventory.Stock {
	c.t.Helper()
	return got(c, func(r inventory.Reader) ([]inventory.Stock, error) { return r.Stock(f) })
}

func stockRead(c *scene) {
	split := c.ensure(fullClocks())
	assert.Empty(c.t, stock(c, inventory.StockFilter{}))
	c.receive(split, 4, southStore)
	c.receive(c.lot, 7, southStore)
	c.receive(c.lot, 3, northStore)
	assert.Equal(c.t, []inventory.Stock{
		{Place: northStore, Lot: c.lot, Qty: 3}, {Place: southStore, Lot: c.lot, Qty: 7}, {Place: southStore, Lot: split,
			Qty: 4},
	}, stock(c, inventory.StockFilter{}))
	c.post(move(c.lot, 3, northStore, string(inventory.KindUsed), inventory.ReasonUsed))
	assert.Len(c.t, stock(c, inventory.StockFilter{}), 2, "what is gone is no row")
}

func stockNarrowed(c *scene) {
	device := c.device("SN-1")
	c.receive(c.lot, 10, northStore)
	c.receive(device, 1, southStore)
	c.receive(c.lot, 2, "NORTH-TRAINING")
	c.post(move(c.lot, 3, northStore, bagOne, inventory.ReasonStow))
	lent := got(c, bag(bagOne))
	lent.AtStation = south
	c.updateBag(lent)
	for name, try := range map[string]struct {
		filter inventory.StockFilter
		want   []string
	}{
		"all":     {inventory.StockFilter{}, []string{bagOne, northStore, "NORTH-TRAINING", southStore}},
		"station": {inventory.StockFilter{Stations: []string{north}}, []string{northStore, "NORTH-TRAINING"}},
		"lent":    {inventory.StockFilter{Stations: []string{south}}, []string{bagOne, southStore}},
		"kinds": {inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindBag, inventory.KindAway}},
			[]string{bagOne}},
		"purpose": {inventory.StockFilter{Purpose: inventory.ForTraining}, []string{"NORTH-TRAINING"}},
		"places":  {inventory.StockFilter{Places: []string{southStore, bagOne}}, []string{bagOne, southStore}},
		"items": {inventory.StockFilter{Items: []string{thermometer, bandage}, Kinds: []inventory.PlaceKind{inventory.KindBag,
			inventory.KindStore}, Stations: []string{south}}, []string{bagOne, southStore}},
		"item":  {inventory.StockFilter{Items: []string{thermometer}}, []string{southStore}},
		"batch": {inventory.StockFilter{Batches: []int64{device.Batch.ID}}, []string{southStore}},
		"lot":   {inventory.StockFilter{Lots: []int64{c.lot.ID}}, []string{bagOne, northStore, "NORTH-TRAINING"}},
		"lots":  {inventory.StockFilter{Lots: []int64{device.ID, 999}}, []string{southStore}},
		"several": {inventory.StockFilter{Items: []string{bandage}, Kinds: []inventory.PlaceKind{inventory.KindStore},
			Stations: []string{south}}, nil},
	} {
		assert.Equal(c.t, try.want, codesOf(stock(c, try.filter), func(s inventory.Stock) string { return s.Place }), name)
	}
}
