package ledger

import (
	"slices"

	"stowkeeper/inventory"
)

// RecordOf works out what inspections, classes and notices say of a batch. It is kept beside the batch, so that bags
// can be judged without reading all of them; verify works it out again.
func RecordOf(r inventory.Reader, b inventory.Batch, notices []inventory.Notice) (inventory.BatchRecord, error) {
	var record inventory.BatchRecord
	var last inventory.Inspection
	if b.Serial != "" {
		var err error
		if last, err = lastPassed(r, b.ID); err != nil {
			return record, err
		}
		if record.InspectedOn, err = dayOfInspection(r, last); err != nil {
			return record, err
		}
		uses, err := r.TrainingUses(inventory.BatchFilter{IDs: []int64{b.ID}}, inventory.Page{})
		if err != nil {
			return record, err
		}
		for _, u := range uses {
			record.Cycles += u.Cycles
		}
	}
	record.Withdrawn, record.InspectBy = inventory.RecordUnder(b, notices, last.HappenedAt)
	return record, nil
}

// lastPassed returns the newest inspection that a device passed, or none.
func lastPassed(r inventory.Reader, batch int64) (inventory.Inspection, error) {
	done, err := r.Inspections(inventory.BatchFilter{IDs: []int64{batch}}, inventory.Page{})
	if i := slices.IndexFunc(done, func(i inventory.Inspection) bool { return i.Passed }); i >= 0 {
		return done[i], err
	}
	return inventory.Inspection{}, err
}

// dayOfInspection is the day of an inspection by the calendar of the station that
// its place belongs to, 0 where there was none.
func dayOfInspection(r inventory.Reader, i inventory.Inspection) (inventory.Day, error) {
	if i.ID == 0 {
		return 0, nil
	}
	place, err := r.Place(i.Place)
	if err != nil {
		return 0, err
	}
	station, err := r.Station(place.Station)
	return station.Today(i.HappenedAt), err
}

// renewRecord works out the record of a batch again and stores it. The item
// must be locked, so that nobody else does the same from older facts.
func (u *Unit) renewRecord(b inventory.Batch) error {
	clear(u.lots)
	b, err := u.W.Batch(b.ID)
	if err != nil {
		return err
	}
	notices, err := u.W.Notices(inventory.NoticesOn(b), inventory.Page{})
	if err != nil {
		return err
	}
	record, err := RecordOf(u.W, b, notices)
	if err != nil || SameRecord(record, b.BatchRecord) {
		return err
	}
	return u.W.SetBatchRecord(b.ID, record)
}

// ApplyNotices brings what the batches of an item bear in line with the notices on it. The item must be locked.
func ApplyNotices(w inventory.Writer, item string) error {
	batches, err := w.Batches(inventory.BatchFilter{EverItems: []string{item}})
	if err != nil || len(batches) == 0 {
		return err
	}
	notices, err := w.Notices(inventory.NoticesOn(batches...), inventory.Page{})
	if err != nil {
		return err
	}
	for _, b := range batches {
		if err := applyTo(w, b, notices); err != nil {
			return err
		}
	}
	return nil
}

// applyTo stores what the notices ask of a batch. Notices leave its inspections and classes as they are, so these are
// read only where a notice asks when the last one was.
func applyTo(w inventory.Writer, b inventory.Batch, notices []inventory.Notice) error {
	record := b.BatchRecord
	record.Withdrawn, record.InspectBy = inventory.RecordUnder(b, notices, 0)
	if record.InspectBy != 0 && b.Serial != "" {
		last, err := lastPassed(w, b.ID)
		if err != nil {
			return err
		}
		record.Withdrawn, record.InspectBy = inventory.RecordUnder(b, notices, last.HappenedAt)
	}
	if SameRecord(record, b.BatchRecord) {
		return nil
	}
	return w.SetBatchRecord(b.ID, record)
}

func SameRecord(a, b inventory.BatchRecord) bool {
	return slices.Equal(a.Withdrawn, b.Withdrawn) && a.InspectedOn == b.InspectedOn && a.Cycles == b.Cycles &&
		a.InspectBy == b.InspectBy
}
