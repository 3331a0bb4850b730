package storetest

import (
	"fmt"
	"sync"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var lotPromises = []promise{
	{"a batch is kept whole", batchKept},
	{"a batch is found by its identity", batchFound},
	{"a batch or serial number is known once for an item", batchOnce},
	{"a lot is made once for its clocks", lotEnsured},
	{"a lot is made once by several writers", lotEnsuredTogether},
	{"batches and lots are made many at once, numbered as they are listed", manyMade},
	{"a lot is kept whole", lotKept},
	{"lots are listed by what and where they are", lotsListed},
	{"lots are found by a part of their number", lotsNumbered},
}

func fullBatch(c *scene) inventory.Batch {
	return inventory.Batch{
		Item: bandage, Product: c.addProduct(fullProduct()).ID, BatchNo: "L/2027-1", MadeOn: inventory.MustDay("2026-02-01"),
		EndPrinted: "2029-06", EndWording: inventory.WordUseBefore, LastUsable: inventory.MustDay("2029-05-31"),
	}
}

func batchKept(c *scene) {
	want := fullBatch(c)
	b, _ := c.addLot(want)
	require.NotZero(c.t, b.ID)
	want.ID = b.ID
	assert.Equal(c.t, want, b)
	assert.Equal(c.t, want, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID) }))
	absent(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID + 1) })
	for i, wording := range append(inventory.Wordings, inventory.WordUnstated) {
		c.addLot(inventory.Batch{Item: bandage, BatchNo: "W-" + string(wording), EndWording: wording,
			EndPrinted: "2027-0" + string(rune('1'+i))})
	}
}

func find(item string, product int64, batchNo, serial string) func(inventory.Reader) (inventory.Batch, error) {
	return func(r inventory.Reader) (inventory.Batch, error) { return r.FindBatch(item, product, batchNo, serial) }
}

func batchFound(c *scene) {
	full, _ := c.addLot(fullBatch(c))
	device, _ := c.addLot(inventory.Batch{Item: thermometer, BatchNo: "T", Serial: "SN-1"})
	loose, _ := c.addLot(inventory.Batch{Item: bandage})
	assert.Equal(c.t, full, got(c, find(bandage, full.Product, full.BatchNo, "")))
	assert.Equal(c.t, c.batch, got(c, find(bandage, 0, "B-1", "")))
	assert.Equal(c.t, device, got(c, find(thermometer, 0, "", "SN-1")), "a serial number alone identifies")
	assert.Equal(c.t, loose, got(c, find(bandage, 0, "", "")))
	absent(c, find(bandage, 0, full.BatchNo, ""))
	absent(c, find(bandage, full.Product, "b-1", ""))
	absent(c, find(bandage, 0, "", "SN-1"))
	absent(c, find(thermometer, 0, "T", ""))
}

func batchOnce(c *scene) {
	b := fullBatch(c)
	c.addLot(b)
	add := func(b inventory.Batch) func(inventory.Writer) error {
		return func(w inventory.Writer) error {
			_, err := w.AddBatches([]inventory.Batch{b})
			return err
		}
	}
	b.EndPrinted, b.LastUsable = "2029-07", inventory.MustDay("2029-06-30")
	c.refused(inventory.Conflict, add(b))
	b.Product = 0
	c.write(add(b)) // of another product, so another batch
	c.refused(inventory.Conflict, add(b))

	device := inventory.Batch{Item: thermometer, BatchNo: "T", Serial: "SN-1"}
	c.write(add(device))
	device.BatchNo = "U"
	c.refused(inventory.Conflict, add(device))
	device.Serial = "SN-2"
	c.write(add(device))
	device.Serial = "SN-3" // devices of one batch number
	c.write(add(device))
	device.Item, device.Serial = bandage, "SN-1"
	c.write(add(device)) // of another item
	c.refused(inventory.Conflict, add(inventory.Batch{Item: "NONE"}))
}

func fullClocks() inventory.Clocks {
	return inventory.Clocks{
		StowedOn: inventory.MustDay("2026-03-01"), OpenedOn: inventory.MustDay("2026-03-02"),
		ExposedSince: inventory.MustDay("2026-03-03"),
		ExposedDays:  12, ExposedLast: inventory.MustDay("2026-02-20"), Training: true, Unidentified: true,
	}
}

func (c *scene) ensure(clocks inventory.Clocks) inventory.Lot {
	c.t.Helper()
	var lot inventory.Lot
	c.write(func(w inventory.Writer) (err error) {
		lot, err = ensured(w, inventory.Lot{Batch: c.batch, Clocks: clocks, Parent: c.lot.ID,
			ReceivedOn: inventory.MustDay("2026-01-31")})
		return err
	})
	return lot
}

// lotEnsured walks clocks that differ in one field each.
func lotEnsured(c *scene) {
	ids := map[int64]bool{c.lot.ID: true}
	for _, change := range []func(*inventory.Clocks){
		func(k *inventory.Clocks) {},
		func(k *inventory.Clocks) { k.StowedOn = 0 },
		func(k *inventory.Clocks) { k.OpenedOn++ },
		func(k *inventory.Clocks) { k.ExposedSince = 0 },
		func(k *inventory.Clocks) { k.ExposedDays-- },
		func(k *inventory.Clocks) { k.ExposedLast = 0 },
		func(k *inventory.Clocks) { k.Training = false },
		func(k *inventory.Clocks) { k.Unidentified = false },
	} {
		clocks := fullClocks()
		change(&clocks)
		lot := c.ensure(clocks)
		assert.False(c.t, ids[lot.ID], "a lot of its own: %+v", clocks)
		ids[lot.ID] = true
		assert.Equal(c.t, lot, c.ensure(clocks), "found again")
		assert.Equal(c.t, clocks, lot.Clocks)
	}
	assert.Equal(c.t, c.lot.ID, c.ensure(inventory.Clocks{}).ID)
	assert.Zero(c.t, c.ensure(inventory.Clocks{}).Parent, "what exists is left as it is")
	err := c.tryWrite(func(w inventory.Writer) error {
		none := c.batch
		none.ID += 99
		_, err := ensured(w, inventory.Lot{Batch: none})
		return err
	})
	assert.Equal(c.t, inventory.Conflict, inventory.KindOf(err))
}

func lotEnsuredTogether(c *scene) {
	var wg sync.WaitGroup
	ids := make([]int64, 6)
	for i := range ids {
		wg.Go(func() {
			assert.NoError(c.t, c.tryWrite(func(w inventory.Writer) error {
				lot, err := ensured(w, inventory.Lot{Batch: c.batch, Clocks: fullClocks(), Parent: c.lot.ID})
				ids[i] = lot.ID
				return err
			}))
		})
	}
	wg.Wait()
	for _, id := range ids {
		assert.Equal(c.t, ids[0], id)
	}
}

func manyMade(c *scene) {
	const many = 150
	batches := make([]inventory.Batch, many)
	for i := range batches {
		batches[i] = inventory.Batch{Item: bandage, BatchNo: fmt.Sprint("M-", many-i)}
	}
	batches[7].BatchNo, batches[8] = "", inventory.Batch{Item: thermometer, Serial: "SN-M"}
	lots := make([]inventory.Lot, many)
	c.write(func(w inventory.Writer) (err error) {
		if batches, err = w.AddBatches(batches); err != nil {
			return err
		}
		for i, b := range batches {
			lots[i] = inventory.Lot{Batch: b, Clocks: inventory.Clocks{Training: i%2 == 0},
				ReceivedOn: inventory.MustDay("2026-11-01")}
		}
		lots, err = w.EnsureLots(lots)
		return err
	})
	for i, l := range lots {
		kept := got(c, func(r inventory.Reader) (inventory.Lot, error) { return r.Lot(l.ID) })
		assert.Equal(c.t, l, kept)
		assert.Equal(c.t, batches[i], kept.Batch)
		assert.True(c.t, i == 0 || batches[i-1].ID < l.Batch.ID && lots[i-1].ID < l.ID)
	}
	split := inventory.Lot{Batch: batches[3], Clocks: fullClocks(), Parent: lots[3].ID}
	c.write(func(w inventory.Writer) error {
		again, err := w.EnsureLots([]inventory.Lot{lots[2], split, lots[4]})
		assert.Equal(c.t, []int64{lots[2].ID, lots[4].ID}, []int64{again[0].ID, again[2].ID})
		assert.Greater(c.t, again[1].ID, lots[many-1].ID)
		return err
	})
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddBatches([]inventory.Batch{{Item: bandage, BatchNo: "NEW"}, {Item: bandage, BatchNo: "M-9"}})
		return err
	})
	found := got(c, func(r inventory.Reader) ([]inventory.Batch, error) {
		return r.Batches(inventory.BatchFilter{Items: []string{bandage, thermometer},
			Numbers: [][2]string{{bandage, "M-9"}, {bandage, "NEW"}, {thermometer, "M-8"}}})
	})
	assert.Subset(c.t, found, []inventory.Batch{batches[7], batches[8], batches[many-9]},
		"numberless, a device, and that one")
	assert.NotContains(c.t, found, batches[many-8], "of another item")
	found = got(c, func(r inventory.Reader) ([]inventory.Batch, error) {
		return r.Batches(inventory.BatchFilter{Numbers: [][2]string{{bandage, "M-9"}}})
	})
	assert.Equal(c.t, []inventory.Batch{batches[many-9]}, found)
}

func lotKept(c *scene) {
	lot := c.ensure(fullClocks())
	assert.Equal(c.t, inventory.Lot{
		ID: lot.ID, Batch: c.batch, Clocks: fullClocks(), Parent: c.lot.ID, ReceivedOn: inventory.MustDay("2026-01-31"),
	}, lot)
	assert.Equal(c.t, lot, got(c, func(r inventory.Reader) (inventory.Lot, error) { return r.Lot(lot.ID) }))
	absent(c, func(r inventory.Reader) (inventory.Lot, error) { return r.Lot(lot.ID + 1) })
}

func lotsListed(c *scene) {
	split := c.ensure(fullClocks())
	device := c.device("SN-1")
	c.receive(c.lot, 2, northStore)
	c.receive(device, 1, southStore)
	lent := got(c, bag(bagOne))
	lent.AtStation = south
	c.updateBag(lent)
	c.post(move(c.lot, 1, northStore, bagOne, inventory.ReasonStow))
	list := func(f inventory.LotFilter) []inventory.Lot {
		return got(c, func(r inventory.Reader) ([]inventory.Lot, error) { return r.Lots(f, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Lot{c.lot, split, device}, list(inventory.LotFilter{}))
	assert.Equal(c.t, []inventory.Lot{c.lot, device}, list(inventory.LotFilter{IDs: []int64{device.ID, c.lot.ID, 999}}))
	assert.Equal(c.t, []inventory.Lot{c.lot, split}, list(inventory.LotFilter{Item: bandage}))
	assert.Equal(c.t, []inventory.Lot{c.lot, split}, list(inventory.LotFilter{BatchNo: "B-1"}))
	assert.Equal(c.t, []inventory.Lot{c.lot, split}, list(inventory.LotFilter{Batch: c.batch.ID}))
	assert.Equal(c.t, []inventory.Lot{device}, list(inventory.LotFilter{Serial: "SN-1"}))
	assert.Equal(c.t, []inventory.Lot{c.lot}, list(inventory.LotFilter{Place: northStore}))
	assert.Equal(c.t, []inventory.Lot{c.lot}, list(inventory.LotFilter{Stations: []string{north}}))
	assert.Equal(c.t, []inventory.Lot{c.lot, device}, list(inventory.LotFilter{Stations: []string{south}}),
		"a lent bag is where it is")
	assert.Empty(c.t, list(inventory.LotFilter{Item: bandage, Serial: "SN-1"}))
}

func lotsNumbered(c *scene) {
	var ids []int64
	for _, number := range []string{"Ab_1", "aBc1", "50%ü", `5\0`} {
		_, l := c.addLot(inventory.Batch{Item: bandage, BatchNo: number})
		ids = append(ids, l.ID)
	}
	ids = append(ids, c.device("SN-Ab9").ID)
	for part, found := range map[string][]int{
		"ab": {0, 1, 4}, "AB": {0, 1, 4}, "b_": {0}, "%": {2}, "0%ü": {2}, `\`: {3}, "n-a": {4}, "xyz": nil,
	} {
		var want []int64
		for _, i := range found {
			want = append(want, ids[i])
		}
		var have []int64
		for _, l := range got(c, func(r inventory.Reader) ([]inventory.Lot, error) {
			return r.Lots(inventory.LotFilter{Number: part}, inventory.Page{})
		}) {
			have = append(have, l.ID)
		}
		assert.Equal(c.t, want, have, part)
	}
}
