package store

import "stowkeeper/inventory"

type deedRow struct {
	ID           int64   `gorm:"primaryKey;autoIncrement"`
	At           instant `gorm:"not null"`
	ByName       string
	FromTerminal string
	Kind         string
	Site         string
	Place        string
	OtherPlace   string
	LotID        ref
	BatchID      ref
	Person       string
	Detail       string
}

func (deedRow) TableName() string { return "deed" }

func (d deedRow) value() inventory.HistoryEntry {
	return inventory.HistoryEntry{
		ID: d.ID, RecordedAt: inventory.Instant(d.At), By: d.ByName, From: d.FromTerminal, Kind: inventory.HistoryKind(d.Kind), Site: d.Site, Place: d.Place,
		OtherPlace: d.OtherPlace, LotID: int64(d.LotID), BatchID: int64(d.BatchID), Person: d.Person, Detail: d.Detail,
	}
}

// AddDeeds adds to the history.
func (w writer) AddDeeds(ds []inventory.HistoryEntry) error {
	return w.step("add deeds", "", createAll(w, mapped(ds, func(d inventory.HistoryEntry) deedRow {
		return deedRow{
			At: instant(d.RecordedAt), ByName: d.By, FromTerminal: d.From, Kind: string(d.Kind), Site: d.Site, Place: d.Place, OtherPlace: d.OtherPlace,
			LotID: ref(d.LotID), BatchID: ref(d.BatchID), Person: d.Person, Detail: d.Detail,
		}
	})))
}

// Deeds lists the history, newest first.
func (r reader) Deeds(f inventory.HistoryFilter, p inventory.Page) ([]inventory.HistoryEntry, error) {
	q := r.gorm()
	if f.Sites != nil {
		q = q.Where("(site IN ? OR EXISTS (SELECT 1 FROM place p WHERE p.code IN (place, other_place) AND (p.site IN ? OR p.at_site IN ?)))",
			append([]string{""}, f.Sites...), f.Sites, f.Sites)
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
	if f.LotNo != "" {
		const of = "(SELECT id FROM batch WHERE lot_no = ? OR serial = ?)"
		q = q.Where("(batch_id IN "+of+" OR lot_id IN (SELECT id FROM lot WHERE batch_id IN "+of+"))", f.LotNo, f.LotNo, f.LotNo, f.LotNo)
	}
	if f.Person != "" {
		q = q.Where("(by_name = ? OR person = ?)", f.Person, f.Person)
	}
	if f.Since != 0 {
		q = q.Where("at >= ?", instant(f.Since))
	}
	if f.Before != 0 {
		q = q.Where("at < ?", instant(f.Before))
	}
	return list(q, "list deeds", p, newestID, deedRow.value)
}
