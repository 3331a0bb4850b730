package inventory

import "slices"

// recordOf works out what inspections, classes and notices say of a batch. It
// is kept beside the batch, so that bags can be judged without reading all of
// them; verify works it out again.
func recordOf(r Reader, b Batch, notices []Notice) (BatchRecord, error) {
	var record BatchRecord
	var last Inspection
	if b.Serial != "" {
		var err error
		if last, err = lastPassed(r, b.ID); err != nil {
			return record, err
		}
		if record.InspectedOn, err = dayOfInspection(r, last); err != nil {
			return record, err
		}
		uses, err := r.TrainingUses(b.ID)
		if err != nil {
			return record, err
		}
		for _, u := range uses {
			record.Cycles += u.Cycles
		}
	}
	record.Withdrawn, record.InspectBy = recordUnder(b, notices, last.At)
	return record, nil
}

// lastPassed returns the newest inspection that a device passed, or none.
func lastPassed(r Reader, batch int64) (Inspection, error) {
	done, err := r.Inspections(batch)
	if i := slices.IndexFunc(done, func(i Inspection) bool { return i.Passed }); i >= 0 {
		return done[i], err
	}
	return Inspection{}, err
}

// dayOfInspection is the day of an inspection by the calendar of the site that
// its place belongs to, 0 where there was none.
func dayOfInspection(r Reader, i Inspection) (Day, error) {
	if i.ID == 0 {
		return 0, nil
	}
	place, err := r.Place(i.Place)
	if err != nil {
		return 0, err
	}
	site, err := r.Site(place.Site)
	return site.Today(i.At), err
}

// recordUnder returns what the notices in force ask of a batch. inspected is
// when it last passed an inspection, if it is a device.
func recordUnder(b Batch, notices []Notice, inspected Instant) (withdrawn []string, inspectBy Day) {
	for _, n := range notices {
		switch {
		case !n.Holds() || !n.Means(b):
		case n.Action == NoticeWithdraw:
			withdrawn = append(withdrawn, n.Reference)
		case n.Action == NoticeInspect && n.Status == NoticeOpen && inspected < n.IssuedAt:
			if on := n.IssuedAt.In(utc); inspectBy == 0 || on < inspectBy {
				inspectBy = on
			}
		}
	}
	return withdrawn, inspectBy
}

// renewRecord works out the record of a batch again and stores it. The item
// must be locked, so that nobody else does the same from older facts.
func renewRecord(w Writer, b Batch) error {
	notices, err := w.Notices(NoticeFilter{Item: b.Item}, Page{})
	if err != nil {
		return err
	}
	b, err = w.Batch(b.ID)
	if err != nil {
		return err
	}
	record, err := recordOf(w, b, notices)
	if err != nil || sameRecord(record, b.BatchRecord) {
		return err
	}
	return w.SetBatchRecord(b.ID, record)
}

// applyNotices brings what the batches of an item bear in line with the
// notices on it. The item must be locked.
func applyNotices(w Writer, item string) error {
	notices, err := w.Notices(NoticeFilter{Item: item}, Page{})
	if err != nil {
		return err
	}
	batches, err := w.Batches(item)
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

// applyTo stores what the notices ask of a batch. Notices leave its
// inspections and classes as they are, so these are read only where a notice
// asks when the last one was.
func applyTo(w Writer, b Batch, notices []Notice) error {
	record := b.BatchRecord
	record.Withdrawn, record.InspectBy = recordUnder(b, notices, 0)
	if record.InspectBy != 0 && b.Serial != "" {
		last, err := lastPassed(w, b.ID)
		if err != nil {
			return err
		}
		record.Withdrawn, record.InspectBy = recordUnder(b, notices, last.At)
	}
	if sameRecord(record, b.BatchRecord) {
		return nil
	}
	return w.SetBatchRecord(b.ID, record)
}

func sameRecord(a, b BatchRecord) bool {
	return slices.Equal(a.Withdrawn, b.Withdrawn) && a.InspectedOn == b.InspectedOn && a.Cycles == b.Cycles && a.InspectBy == b.InspectBy
}
