package store

import "stowkeeper/inventory"

type historyRow struct {
	ID         int64   `gorm:"primaryKey;autoIncrement"`
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	From       string  `gorm:"column:from_terminal"`
	Kind       string
	Station    string
	Place      string
	OtherPlace string
	LotID      ref
	BatchID    ref
	Person     string
	Detail     string
}

func (historyRow) TableName() string { return "history_entry" }

// AddHistory adds to the history.
func (w writer) AddHistory(ds []inventory.HistoryEntry) error {
	whole := w.step
	if len(ds) <= atOnce {
		whole = w.single
	}
	return whole("add entries", "", createAll(w, mapped(ds, func(d inventory.HistoryEntry) historyRow {
		d.ID = 0
		return convert[historyRow](d)
	})))
}

// History lists the history, newest first.
func (r reader) HistoryEntries(f inventory.HistoryFilter, p inventory.Page) ([]inventory.HistoryEntry, error) {
	q := r.gorm()
	if f.Stations != nil {
		q = q.Where("(station IN ? OR EXISTS (SELECT 1 FROM place p WHERE p.code IN (place, other_place) AND (p.station IN "+
			"? OR p.at_station IN ?)))",
			append([]string{""}, f.Stations...), f.Stations, f.Stations)
	}
	if len(f.Kinds) > 0 {
		q = q.Where("kind IN ?", f.Kinds)
	}
	if len(f.Not) > 0 {
		q = q.Where("kind NOT IN ?", f.Not)
	}
	if f.Place != "" {
		q = q.Where("(place = ? OR other_place = ?)", f.Place, f.Place)
	}
	if f.BatchNo != "" {
		const of = "(SELECT id FROM batch WHERE batch_no = ? OR serial = ?)"
		q = q.Where("(batch_id IN "+of+" OR lot_id IN (SELECT id FROM lot WHERE batch_id IN "+of+"))", f.BatchNo, f.BatchNo,
			f.BatchNo, f.BatchNo)
	}
	if f.Person != "" {
		q = q.Where("(by_name = ? OR person = ?)", f.Person, f.Person)
	}
	if f.Since != 0 {
		q = q.Where("recorded_at >= ?", instant(f.Since))
	}
	if f.Before != 0 {
		q = q.Where("recorded_at < ?", instant(f.Before))
	}
	return list(q, "list entries", p, newestID, convert[inventory.HistoryEntry, historyRow])
}
