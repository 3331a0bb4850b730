package storetest

import (
	"context"
	"errors"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var devicePromises = []promise{
	{"batches are listed by id, item and station", batchesListed},
	{"the record of a batch is stored whole, its other facts left alone", batchRecordStored},
	{"devices are listed, and those that are held", devicesListed},
	{"an inspection is kept whole, newest first by when it was made", inspectionKept},
	{"a class's use is kept whole, newest first by when it was", trainingUseKept},
	{"an item waits for the one who holds it", itemLocked},
}

func batchesListed(c *scene) {
	device := c.device("SN-1")
	other, _ := c.addLot(inventory.Batch{Item: bandage, BatchNo: "B-0"})
	c.receive(device, 1, southStore)
	for _, try := range []struct {
		of   inventory.BatchFilter
		want []inventory.Batch
	}{
		{inventory.BatchFilter{}, []inventory.Batch{c.batch, device.Batch, other}},
		{inventory.BatchFilter{Items: []string{bandage}}, []inventory.Batch{c.batch, other}},
		{inventory.BatchFilter{Items: []string{thermometer, "NONE"}}, []inventory.Batch{device.Batch}},
		{inventory.BatchFilter{IDs: []int64{other.ID, c.batch.ID}}, []inventory.Batch{c.batch, other}},
		{inventory.BatchFilter{Stations: []string{south}}, []inventory.Batch{device.Batch}},
		{inventory.BatchFilter{Stations: []string{north}}, nil},
	} {
		assert.Equal(c.t, try.want, append([]inventory.Batch(nil), got(c, batches(try.of))...), try.of)
	}
}

func batches(f inventory.BatchFilter) func(inventory.Reader) ([]inventory.Batch, error) {
	return func(r inventory.Reader) ([]inventory.Batch, error) { return r.Batches(f) }
}

// fullBatchRecord has every field set.
func fullBatchRecord() inventory.BatchRecord {
	return inventory.BatchRecord{
		InspectedOn: inventory.MustDay("2026-11-20"), Cycles: 12, InspectBy: inventory.MustDay("2026-11-24"),
		Withdrawn: []string{"FSN 7, second", "ünlike"},
	}
}

func batchRecordStored(c *scene) {
	want := fullBatch(c)
	want.BatchRecord = fullBatchRecord()
	b, lot := c.addLot(want)
	want.ID = b.ID
	assert.Equal(c.t, want, b, "a batch begins with what is known of it")
	c.write(func(w inventory.Writer) error { return w.SetBatchRecord(b.ID, inventory.BatchRecord{}) })
	c.write(func(w inventory.Writer) error { return w.SetBatchRecord(b.ID, fullBatchRecord()) })
	assert.Equal(c.t, want, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(b.ID) }))
	assert.Equal(c.t, want, got(c, func(r inventory.Reader) (inventory.Lot, error) { return r.Lot(lot.ID) }).Batch,
		"lots bear it")
	c.receive(lot, 1, northStore)
	assert.Equal(c.t, want, stock(c, inventory.StockFilter{Batches: []int64{b.ID}})[0].Lot.Batch, "stock bears it")
	c.write(func(w inventory.Writer) error { return w.SetBatchRecord(b.ID, inventory.BatchRecord{}) })
	assert.Equal(c.t, inventory.BatchRecord{}, got(c, func(r inventory.Reader) (inventory.Batch,
		error) {
		return r.Batch(b.ID)
	}).BatchRecord, "zeros are stored too")
	assert.Equal(c.t, inventory.BatchRecord{}, got(c, func(r inventory.Reader) (inventory.Batch,
		error) {
		return r.Batch(c.batch.ID)
	}).BatchRecord, "of this batch alone")
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		return w.SetBatchRecord(b.ID+99,
			inventory.BatchRecord{})
	})
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.SetBatchRecord(b.ID,
			inventory.BatchRecord{Cycles: -1})
	})
}

func devicesListed(c *scene) {
	held, gone := c.device("SN-1"), c.device("SN-2")
	c.receive(held, 1, southStore)
	c.receive(gone, 1, northStore)
	c.post(move(gone, 1, northStore, used, inventory.ReasonUsed))
	c.receive(c.lot, 2, northStore)
	list := func(f inventory.LotFilter) []inventory.Lot {
		return got(c, func(r inventory.Reader) ([]inventory.Lot, error) { return r.Lots(f, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Lot{held, gone}, list(inventory.LotFilter{Devices: true}))
	assert.Equal(c.t, []inventory.Lot{held}, list(inventory.LotFilter{Devices: true, Held: true}))
	assert.Equal(c.t, []inventory.Lot{c.lot, held}, list(inventory.LotFilter{Held: true}))
	assert.Empty(c.t, list(inventory.LotFilter{Devices: true, Held: true, Stations: []string{north}}))
	assert.Equal(c.t, []inventory.Lot{held}, list(inventory.LotFilter{Devices: true, Held: true, Place: southStore}))
}

func (c *scene) addInspection(i inventory.Inspection) inventory.Inspection {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		i, err = w.AddInspection(i)
		return err
	})
	require.NotZero(c.t, i.ID)
	return i
}

func inspectionKept(c *scene) {
	lot := c.device("SN-1")
	want := inventory.Inspection{
		BatchID: lot.Batch.ID, LotID: lot.ID, Item: thermometer, Place: bagOne, HappenedAt: noon - 9, RecordedAt: noon,
		By: "Q. Master", Role: inventory.Quartermaster,
		Points: []inventory.PointCheck{{Point: "no cracks", Pass: true}, {Point: "label can be read", Note: "worn, ü"}},
		Source: "check 12", Note: "two lines\nof note",
	}
	kept := c.addInspection(want)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	earlier := want
	earlier.HappenedAt, earlier.Passed, earlier.Points = noon-20, true, nil
	earlier = c.addInspection(earlier)
	same := c.addInspection(want)
	list := func(batch int64) []inventory.Inspection {
		of := inventory.BatchFilter{IDs: []int64{batch}}
		return got(c, func(r inventory.Reader) ([]inventory.Inspection, error) { return r.Inspections(of, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Inspection{same, kept, earlier}, list(lot.Batch.ID),
		"by when they were made, then by id")
	assert.Empty(c.t, list(c.batch.ID))
	for _, change := range []func(*inventory.Inspection){
		func(i *inventory.Inspection) { i.Place = "NOWHERE" }, func(i *inventory.Inspection) { i.LotID = c.lot.ID },
		func(i *inventory.Inspection) { i.BatchID = 999 }, func(i *inventory.Inspection) { i.Role = "guest" },
	} {
		bad := want
		change(&bad)
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddInspection(bad)
			return err
		})
	}
	assert.Len(c.t, list(lot.Batch.ID), 3)
}

func trainingUseKept(c *scene) {
	lot := c.device("SN-1")
	add := func(u inventory.TrainingUse) inventory.TrainingUse {
		c.write(func(w inventory.Writer) (err error) {
			u, err = w.AddTrainingUse(u)
			return err
		})
		require.NotZero(c.t, u.ID)
		return u
	}
	want := inventory.TrainingUse{BatchID: lot.Batch.ID, LotID: lot.ID, HappenedAt: noon - 9, RecordedAt: noon,
		By: "Q. Master", Cycles: 12, Class: "spring 2, ü"}
	kept := add(want)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	earlier := want
	earlier.HappenedAt, earlier.Class = noon-20, ""
	earlier = add(earlier)
	list := func(batch int64) []inventory.TrainingUse {
		of := inventory.BatchFilter{IDs: []int64{batch}}
		return got(c, func(r inventory.Reader) ([]inventory.TrainingUse, error) {
			return r.TrainingUses(of,
				inventory.Page{})
		})
	}
	assert.Equal(c.t, []inventory.TrainingUse{kept, earlier}, list(lot.Batch.ID))
	assert.Empty(c.t, list(c.batch.ID))
	for _, change := range []func(*inventory.TrainingUse){
		func(u *inventory.TrainingUse) { u.Cycles = 0 }, func(u *inventory.TrainingUse) { u.LotID = c.lot.ID },
	} {
		bad := want
		change(&bad)
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddTrainingUse(bad)
			return err
		})
	}
}

// itemLocked holds an item in a unit of work that stays open for a moment: the
// other one must come after it, and see what it did.
func itemLocked(c *scene) {
	c.write(func(w inventory.Writer) error { return w.LockItem("NONE") })
	record := inventory.BatchRecord{Cycles: 1}
	other := make(chan error, 1)
	err := c.store.Write(c.t.Context(), func(_ context.Context, w inventory.Writer) error {
		require.NoError(c.t, w.LockItem(bandage))
		go func() {
			other <- c.tryWrite(func(w inventory.Writer) error {
				if err := w.LockItem(bandage); err != nil {
					return err
				}
				b, err := w.Batch(c.batch.ID)
				if err != nil || b.Cycles != 1 {
					return errors.Join(err, errOnPurpose)
				}
				b.Cycles++
				return w.SetBatchRecord(b.ID, b.BatchRecord)
			})
		}()
		select {
		case <-other:
			assert.Fail(c.t, "the other unit of work did not wait")
		case <-time.After(100 * time.Millisecond):
		}
		return w.SetBatchRecord(c.batch.ID, record)
	})
	require.NoError(c.t, err)
	require.NoError(c.t, <-other)
	assert.Equal(c.t, 2, got(c, func(r inventory.Reader) (inventory.Batch, error) { return r.Batch(c.batch.ID) }).Cycles)
}
