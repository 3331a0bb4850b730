package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
)

var changePromises = []promise{
	{"what people changed of a bag is logged, newest first", bagChangesLogged},
	{"a module that comes or goes moves its bag's position on", moduleMovesOn},
	{"bags that are lent, and modules, are listed alone", lentListed},
	{"a vehicle is taken off once, and put back once", vehicleOffOnce},
	{"a batch is corrected, and both facts are kept", batchCorrected},
	{"a batch is not corrected to be another", batchCorrectedTaken},
	{"a batch that turned out to be another has its number", batchMerged},
}

func bagChangesLogged(c *scene) {
	want := []inventory.BagLogEntry{
		{Bag: bagOne, RecordedAt: noon, By: "A. Tester", Kind: history.LoggedVehicle, Old: "V 1", New: "V 2",
			Reason: "with bag X"},
		{Bag: bagOne, RecordedAt: noon - 1, By: "B. Tester", Kind: history.LoggedOutOfService, Reason: "torn"},
	}
	for _, e := range want {
		c.write(func(w inventory.Writer) error { return w.AddBagLog(e) })
	}
	list := func(f inventory.RecordFilter) []inventory.BagLogEntry {
		return got(c, func(r inventory.Reader) ([]inventory.BagLogEntry, error) { return r.BagLog(f, inventory.Page{}) })
	}
	log := list(inventory.RecordFilter{Bag: bagOne})
	require.Len(c.t, log, 2)
	for i, e := range log {
		want := want[1-i]
		want.ID = e.ID
		assert.Equal(c.t, want, e)
	}
	assert.Empty(c.t, list(inventory.RecordFilter{Bag: bagTwo}))
	assert.Equal(c.t, log[:1], list(inventory.RecordFilter{AtStations: []string{north}, By: "B. Tester"}))
	assert.Equal(c.t, log[1:], list(inventory.RecordFilter{Since: noon}))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.AddBagLog(inventory.BagLogEntry{Bag: "NONE", RecordedAt: noon, Kind: history.LoggedStation})
	})
	assert.Zero(c.t, c.position(bagOne), "the log moves nothing on")
}

func moduleMovesOn(c *scene) {
	c.addBag("BAG-3", north)
	b := got(c, bag("BAG-3"))
	b.Inside = bagOne
	b = c.updateBag(b)
	assert.EqualValues(c.t, 1, c.position(bagOne))
	assert.Zero(c.t, b.Position)
	b.Inside = bagTwo
	b = c.updateBag(b)
	assert.EqualValues(c.t, 2, c.position(bagOne))
	assert.EqualValues(c.t, 1, c.position(bagTwo))
	b.Vehicle = "V 1"
	b = c.updateBag(b)
	b.Inside = ""
	c.updateBag(b)
	assert.EqualValues(c.t, 2, c.position(bagTwo))
	made := inventory.Bag{Code: "BAG-4", Station: north, AtStation: north, Name: "Module", KitList: b.KitList,
		KitListVersion: b.KitListVersion, Priority: 5,
		Purpose: inventory.ForIssue, Inside: bagOne}
	c.write(func(w inventory.Writer) error { return w.AddBag(made) })
	assert.EqualValues(c.t, 3, c.position(bagOne), "also for one that is made inside it")
	assert.Zero(c.t, c.position("BAG-4"))
}

func lentListed(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddBag(fullBag()) }) // lent, and inside
	for _, f := range []inventory.BagFilter{{Lent: true}, {Lent: true, AtStations: []string{south}}} {
		list := got(c, func(r inventory.Reader) ([]inventory.Bag, error) { return r.Bags(f, inventory.Page{}) })
		require.Len(c.t, list, 1)
		assert.Equal(c.t, "BAG-3", list[0].Code)
	}
}

func vehiclesOff(f inventory.VehicleFilter) func(inventory.Reader) ([]inventory.VehicleOutOfService, error) {
	return func(r inventory.Reader) ([]inventory.VehicleOutOfService, error) { return r.VehiclesOutOfService(f) }
}

func vehicleOffOnce(c *scene) {
	off := inventory.VehicleOutOfService{Station: north, Vehicle: "V 1",
		ServicePause: inventory.ServicePause{Reason: "brakes", By: "A. Tester", RecordedAt: noon}}
	c.write(func(w inventory.Writer) (err error) {
		off, err = w.AddVehicleOutOfService(off)
		return err
	})
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddVehicleOutOfService(off)
		return err
	})
	now := inventory.VehicleFilter{Stations: []string{north}, Vehicle: "V 1", Now: true}
	assert.Equal(c.t, []inventory.VehicleOutOfService{off}, got(c, vehiclesOff(now)))
	assert.Empty(c.t, got(c, vehiclesOff(inventory.VehicleFilter{Stations: []string{south}})))
	assert.Empty(c.t, got(c, vehiclesOff(inventory.VehicleFilter{Vehicle: "V 2"})))
	off.BackAt, off.BackBy = noon+1, "B. Tester"
	c.write(func(w inventory.Writer) error { return w.EndVehicleOutOfService(off) })
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.EndVehicleOutOfService(off) })
	assert.Empty(c.t, got(c, vehiclesOff(now)))
	assert.Equal(c.t, []inventory.VehicleOutOfService{off}, got(c, vehiclesOff(inventory.VehicleFilter{})),
		"it is remembered")
	c.write(func(w inventory.Writer) error {
		_, err := w.AddVehicleOutOfService(off)
		return err
	})
	assert.Len(c.t, got(c, vehiclesOff(inventory.VehicleFilter{})), 2)
}

func batchCorrected(c *scene) {
	b := c.batch
	fix := inventory.BatchCorrection{BatchID: b.ID, RecordedAt: noon, By: "A. Tester", Reason: "misread",
		Old: inventory.BatchFacts{
			BatchNo: b.BatchNo, EndPrinted: b.EndPrinted, EndWording: b.EndWording}}
	b.BatchNo, b.MadeOn, b.EndPrinted, b.EndWording, b.LastUsable = "B-2", inventory.MustDay("2025-01-01"), "2028-03-04",
		inventory.WordUseBefore, inventory.MustDay("2028-03-03")
	fix.New = inventory.BatchFacts{BatchNo: b.BatchNo, MadeOn: b.MadeOn, EndPrinted: b.EndPrinted,
		EndWording: b.EndWording}
	b.Formerly = []inventory.BatchFacts{{Item: "FORMER", BatchNo: "b–1 ü"}}
	c.write(func(w inventory.Writer) (err error) {
		fix, err = w.CorrectBatch(b, fix)
		return err
	})
	assert.NotZero(c.t, fix.ID)
	assert.Equal(c.t, b, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID) }))
	assert.Equal(c.t, []inventory.BatchCorrection{fix}, got(c, func(r inventory.Reader) ([]inventory.BatchCorrection,
		error) {
		return r.BatchCorrections(inventory.BatchFilter{IDs: []int64{b.ID, b.ID + 100}})
	}))
	for number, want := range map[string]int{"B-2": 1, " b2": 1, "B1Ü": 1, "B1": 0, "2": 0} {
		lots := got(c, func(r inventory.Reader) ([]inventory.Lot, error) {
			return r.Lots(inventory.LotFilter{BatchNo: number}, inventory.Page{})
		})
		assert.Len(c.t, lots, want, number)
	}
	for item, want := range map[string]int{"FORMER": 1, bandage: 1, "FORME": 0, "B–1 Ü": 0} {
		assert.Len(c.t, got(c, func(r inventory.Reader) ([]inventory.Batch, error) {
			return r.Batches(inventory.BatchFilter{EverItems: []string{item, "NONE"}})
		}), want, item)
	}
	other, _ := c.addLot(inventory.Batch{Item: bandage, BatchNo: "B-3"})
	assert.Empty(c.t, got(c, func(r inventory.Reader) ([]inventory.BatchCorrection, error) {
		return r.BatchCorrections(inventory.BatchFilter{IDs: []int64{other.ID}})
	}))
	b.ID += 100
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		_, err := w.CorrectBatch(b, fix)
		return err
	})
}

// batchMerged: a batch that turned out to be another one may have its number.
func batchMerged(c *scene) {
	into, lot := c.addLot(inventory.Batch{Item: bandage, BatchNo: "B-9"})
	b := c.batch
	b.BatchNo, b.MergedInto = "B-9", into.ID
	fix := inventory.BatchCorrection{BatchID: b.ID, RecordedAt: noon, Reason: "one batch", Merged: into.ID}
	c.write(func(w inventory.Writer) (err error) {
		_, err = w.CorrectBatch(b, fix)
		return err
	})
	assert.Equal(c.t, b, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID) }))
	assert.Equal(c.t, into, got(c, func(r inventory.Reader) (inventory.Batch, error) {
		return r.FindBatch(bandage, 0, "B-9", "")
	}))
	family := got(c, func(r inventory.Reader) ([]inventory.Lot, error) {
		return r.Lots(inventory.LotFilter{Batch: into.ID}, inventory.Page{})
	})
	require.Len(c.t, family, 2)
	assert.Equal(c.t, []any{b, lot}, []any{family[0].Batch, family[1]})
	assert.Equal(c.t, into.ID, got(c, func(r inventory.Reader) ([]inventory.BatchCorrection, error) {
		return r.BatchCorrections(inventory.BatchFilter{IDs: []int64{b.ID}})
	})[0].Merged)
}

func batchCorrectedTaken(c *scene) {
	c.addLot(inventory.Batch{Item: bandage, BatchNo: "B-9"})
	b := c.batch
	b.BatchNo = "B-9"
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.CorrectBatch(b, inventory.BatchCorrection{BatchID: b.ID, RecordedAt: noon, Reason: "misread"})
		return err
	})
	assert.Equal(c.t, c.batch, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID) }))
	assert.Empty(c.t, got(c, func(r inventory.Reader) ([]inventory.BatchCorrection, error) {
		return r.BatchCorrections(inventory.BatchFilter{IDs: []int64{b.ID}})
	}))
}
