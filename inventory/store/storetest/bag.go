package storetest

import (
	"sync"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var bagPromises = []promise{
	{"a bag is kept whole, and is a place", bagKept},
	{"a bag's code is taken by any place", bagCodeTaken},
	{"bags are listed by where they are and what they are for", bagsListed},
	{"a bag is changed by version, its record left alone", bagUpdated},
	{"a bag keeps its owning station and purpose", bagFixed},
	{"another list or version moves the position on", listMovesOn},
	{"a bag's record is stored, its position left alone", bagRecordStored},
	{"a retired bag is kept, and listed only where asked for", bagRetired},
	{"a successor is a bag, and only of a retired one", successorChecked},
	{"bags are locked, other codes skipped", bagsLocked},
	{"a bag is locked as it is, not as it was", bagLockedAsItIs},
	{"seals are logged, newest first, and move the position on", sealsLogged},
}

func bag(code string) func(inventory.Reader) (inventory.Bag, error) {
	return func(r inventory.Reader) (inventory.Bag, error) { return r.Bag(code) }
}

// fullRecord has every field of a record set but the position.
func fullRecord() inventory.BagRecord {
	return inventory.BagRecord{
		Seal: "S-77", SealState: inventory.SealDifferent, SealSeenAt: noon - 1, LastSealCheck: noon - 2,
		LastFullCheck: noon - 3,
		LastUse:       noon - 4, LastRestock: noon - 5,
	}
}

func fullBag() inventory.Bag {
	return inventory.Bag{
		Code: "BAG-3", Station: north, AtStation: south, Name: "module", KitList: "KIT", KitListVersion: 1, Priority: 9,
		Purpose: inventory.ForTraining, Vehicle: "V 12", Inside: bagOne,
		OutOfService: &inventory.ServicePause{Reason: "torn", By: "A. Tester", RecordedAt: noon}, Version: 1,
		BagRecord: fullRecord(),
	}
}

func bagKept(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) })
	assert.Equal(c.t, fullBag(), got(c, bag("BAG-3")))
	p := got(c, place("BAG-3"))
	p.Version = 0
	assert.Equal(c.t, fullBag().Place(), p)
	assert.Equal(c.t, north, got(c, bag(bagOne)).AtStation, "a bag is with its owner unless said otherwise")
	absent(c, bag("NONE"))
	absent(c, bag(northStore))
}

func bagCodeTaken(c *scene) {
	for _, code := range []string{bagOne, northStore} {
		b := fullBag()
		b.Code = code
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddBag(b) })
	}
}

func bagsListed(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) })
	list := func(f inventory.BagFilter) []string {
		return codesOf(got(c, func(r inventory.Reader) ([]inventory.Bag, error) { return r.Bags(f, inventory.Page{}) }),
			func(b inventory.Bag) string { return b.Code })
	}
	assert.Equal(c.t, []string{bagOne, bagTwo, "BAG-3"}, list(inventory.BagFilter{}))
	assert.Equal(c.t, []string{bagTwo, "BAG-3"}, list(inventory.BagFilter{AtStations: []string{south}}))
	assert.Equal(c.t, []string{bagOne, bagTwo, "BAG-3"}, list(inventory.BagFilter{AtStations: []string{south, north}}))
	assert.Equal(c.t, []string{"BAG-3"}, list(inventory.BagFilter{Purpose: inventory.ForTraining}))
	assert.Equal(c.t, []string{"BAG-3"}, list(inventory.BagFilter{Inside: bagOne}))
	assert.Equal(c.t, []string{"BAG-3"}, list(inventory.BagFilter{Vehicle: "V 12"}))
	assert.Empty(c.t, list(inventory.BagFilter{KitList: "OTHER"}))
}

func (c *scene) updateBag(b inventory.Bag) inventory.Bag {
	c.t.Helper()
	var out inventory.Bag
	c.write(func(w inventory.Writer) (err error) {
		out, err = w.UpdateBag(b)
		return err
	})
	return out
}

func bagUpdated(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) })
	changed := inventory.Bag{
		Code: "BAG-3", Station: north, AtStation: north, Name: "plain", KitList: "KIT", KitListVersion: 1, Priority: 1,
		Purpose: inventory.ForTraining, Version: 1,
	}
	out := c.updateBag(changed)
	want := changed
	want.Version, want.BagRecord = 2, fullRecord()
	assert.Equal(c.t, want, out)
	assert.Equal(c.t, want, got(c, bag("BAG-3")))
	c.refused(inventory.Stale, func(w inventory.Writer) error {
		_, err := w.UpdateBag(changed)
		return err
	})
	changed.Code = "NONE"
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		_, err := w.UpdateBag(changed)
		return err
	})
}

func bagFixed(c *scene) {
	for _, change := range []func(*inventory.Bag){
		func(b *inventory.Bag) { b.Station = south },
		func(b *inventory.Bag) { b.Purpose = inventory.ForTraining },
	} {
		b := got(c, bag(bagOne))
		change(&b)
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.UpdateBag(b)
			return err
		})
	}
}

func listMovesOn(c *scene) {
	next := c.list
	next.Version = 2
	c.addKitList(next)
	b := got(c, bag(bagOne))
	b.Vehicle = "V 1"
	b = c.updateBag(b)
	assert.Zero(c.t, b.Position)
	b.KitListVersion = 2
	b = c.updateBag(b)
	assert.EqualValues(c.t, 1, b.Position)
	b.KitListVersion = 3
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.UpdateBag(b)
		return err
	})
	assert.EqualValues(c.t, 1, c.position(bagOne))
}

func retiredBag() inventory.Bag {
	b := fullBag()
	b.RetiredAt, b.RetiredBy, b.Successor = noon, "B. Tester", bagTwo
	return b
}

func bagRetired(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) })
	want := retiredBag()
	out := c.updateBag(want)
	want.Version = 2
	assert.Equal(c.t, want, out)
	assert.Equal(c.t, want, got(c, bag("BAG-3")))
	list := func(f inventory.BagFilter) []string {
		return codesOf(got(c, func(r inventory.Reader) ([]inventory.Bag, error) { return r.Bags(f, inventory.Page{}) }),
			func(b inventory.Bag) string { return b.Code })
	}
	assert.Equal(c.t, []string{bagOne, bagTwo}, list(inventory.BagFilter{}))
	assert.Empty(c.t, list(inventory.BagFilter{Inside: bagOne}))
	assert.Equal(c.t, []string{bagOne, bagTwo, "BAG-3"}, list(inventory.BagFilter{Retired: true}))
	places := func(f inventory.PlaceFilter) []string {
		return codesOf(got(c, func(r inventory.Reader) ([]inventory.Place, error) { return r.Places(f, inventory.Page{}) }),
			func(p inventory.Place) string { return p.Code })
	}
	assert.Equal(c.t, []string{bagOne, bagTwo}, places(inventory.PlaceFilter{Kind: inventory.KindBag}))
	assert.Equal(c.t, []string{bagOne, bagTwo, "BAG-3"}, places(inventory.PlaceFilter{Kind: inventory.KindBag,
		Retired: true}))
	assert.Equal(c.t, []string{"BAG-3"}, places(inventory.PlaceFilter{Codes: []string{"BAG-3"}}), "asked for by name")
	assert.Equal(c.t, "BAG-3", got(c, place("BAG-3")).Code)
	back := fullBag()
	back.Version = 2
	assert.Zero(c.t, c.updateBag(back).RetiredAt)
	assert.Equal(c.t, []string{bagOne, bagTwo, "BAG-3"}, list(inventory.BagFilter{}))
}

func successorChecked(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) })
	for _, change := range []func(*inventory.Bag){
		func(b *inventory.Bag) { b.Successor = "NONE" },
		func(b *inventory.Bag) { b.Successor = b.Code },
		func(b *inventory.Bag) { b.RetiredAt, b.RetiredBy = 0, "" },
		func(b *inventory.Bag) { b.RetiredBy = "" },
	} {
		b := retiredBag()
		change(&b)
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.UpdateBag(b)
			return err
		})
	}
	b := retiredBag()
	b.Code = "BAG-4"
	c.write(func(w inventory.Writer) error { return w.AddBag(b) })
	assert.Equal(c.t, bagTwo, got(c, bag("BAG-4")).Successor)
}

func bagRecordStored(c *scene) {
	r := fullRecord()
	r.Position = 99
	c.write(func(w inventory.Writer) error { return w.SetBagRecord(bagOne, r) })
	assert.Equal(c.t, fullRecord(), got(c, bag(bagOne)).BagRecord)
	c.write(func(w inventory.Writer) error { return w.SetBagRecord(bagOne, inventory.BagRecord{}) })
	assert.Equal(c.t, inventory.BagRecord{}, got(c, bag(bagOne)).BagRecord, "zeros are stored too")
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetBagRecord("NONE", r) })
}

func bagsLocked(c *scene) {
	c.write(func(w inventory.Writer) error {
		require.NoError(c.t, w.LockBags(nil))
		return w.LockBags([]string{bagTwo, northStore, "NONE", bagOne, bagTwo})
	})
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		_, err := w.LockBag(northStore)
		return err
	})
}

// bagLockedAsItIs counts up in a bag's record, which goes wrong where a bag comes
// back as it was before its lock was waited for.
func bagLockedAsItIs(c *scene) {
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 5 {
				assert.NoError(c.t, c.tryWrite(func(w inventory.Writer) error {
					b, err := w.LockBag(bagOne)
					if err != nil {
						return err
					}
					b.LastUse++
					return w.SetBagRecord(b.Code, b.BagRecord)
				}))
			}
		})
	}
	wg.Wait()
	assert.EqualValues(c.t, 20, got(c, bag(bagOne)).LastUse)
}

func sealsLogged(c *scene) {
	events := []inventory.SealEvent{
		inventory.SealWasSet, inventory.SealSeen, inventory.SealSeenBroken, inventory.SealSeenOther, inventory.SealOpened,
	}
	positions := []int64{1, 1, 2, 3, 4} // seen in order changes nothing
	for i, e := range events {
		c.write(func(w inventory.Writer) error {
			return w.AddSeal(inventory.SealEntry{
				Bag: bagOne, HappenedAt: noon, By: "A. Tester", Event: e, Number: "S-2", Expected: "S-1", Source: "check 12",
				Note: "after use",
			})
		})
		assert.Equal(c.t, positions[i], c.position(bagOne), e)
	}
	list := func(f inventory.RecordFilter) []inventory.SealEntry {
		return got(c, func(r inventory.Reader) ([]inventory.SealEntry, error) { return r.Seals(f, inventory.Page{}) })
	}
	log := list(inventory.RecordFilter{Bag: bagOne})
	require.Len(c.t, log, len(events))
	for i, e := range log {
		assert.Equal(c.t, inventory.SealEntry{
			ID: e.ID, Bag: bagOne, HappenedAt: noon, By: "A. Tester", Event: events[len(events)-1-i], Number: "S-2",
			Expected: "S-1", Source: "check 12", Note: "after use",
		}, e)
	}
	assert.Empty(c.t, list(inventory.RecordFilter{Bag: bagTwo}))
	assert.Equal(c.t, log, list(inventory.RecordFilter{AtStations: []string{north}, Since: noon}), "of every bag there")
	assert.Empty(c.t, list(inventory.RecordFilter{AtStations: []string{south}}))
	assert.Empty(c.t, list(inventory.RecordFilter{Since: noon + 1}))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.AddSeal(inventory.SealEntry{Bag: "NONE", HappenedAt: noon, Event: inventory.SealWasSet})
	})
}
