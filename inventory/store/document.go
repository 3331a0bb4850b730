package store

import "stowkeeper/inventory"

type documentRow struct {
	ID       int64
	Kind     string
	Of       ref `gorm:"column:of_document"`
	Station  string
	Other    code `gorm:"column:other_station"`
	Place    code
	Status   string
	OpenedAt instant `gorm:"not null"`
	OpenedBy string
	EndedAt  instant
	EndedBy  string
	Body     string
}

func (r reader) Document(id int64) (inventory.Document, error) {
	return take[inventory.Document, documentRow](r, "document", "id = ?", id)
}

func (r reader) Documents(f inventory.DocumentFilter, p inventory.Page) ([]inventory.Document, error) {
	var w where
	given(&w, "kind = ?", f.Kind)
	among(&w, "(station IN ? OR other_station IN ?)", f.Stations)
	among(&w, "place IN ?", f.Places)
	given(&w, "of_document = ?", f.Of)
	w.when(f.Open, "ended_at IS NULL")
	return list[inventory.Document, documentRow](r, "list documents", w, p, newestID)
}

func (r reader) Shelves(stations []string) ([]inventory.Shelf, error) {
	var w where
	among(&w, "p.station IN ?", stations)
	w.and("p.kind IN ('store', 'quarantine', 'carrier')")
	w.and("NOT EXISTS (SELECT 1 FROM station s WHERE s.code = p.station AND s.closed_at IS NOT NULL)")
	return collect(r, "list shelves", `SELECT p.code, p.name, p.station, count(b.lot_id),
    coalesce(max(CASE WHEN i.controlled OR i.code IN (SELECT k.item FROM kit_line k WHERE k.critical AND k.version =
    (SELECT max(l.version) FROM kit_list l WHERE l.code = k.list)) THEN 1 ELSE 0 END), 0) = 1,
    (SELECT max(d.ended_at) FROM document d WHERE d.kind = 'count' AND d.status = 'posted' AND d.place = p.code)
FROM place p LEFT JOIN balance b ON b.place = p.code LEFT JOIN batch t ON t.id = b.batch_id
LEFT JOIN item i ON i.code = t.item`+w.String()+" GROUP BY p.code, p.name, p.station ORDER BY p.code", w.args,
		func(s *inventory.Shelf) []any {
			return []any{&s.Place, &s.Name, &s.Station, &s.Batches, &s.Often, (*instant)(&s.Last)}
		})
}

func (w writer) AddDocument(d inventory.Document) (inventory.Document, error) {
	return keep[documentRow](w, "add document", "", d)
}

func (w writer) LockDocument(id int64) (inventory.Document, error) {
	if err := w.lockRow("document", id); err != nil {
		return inventory.Document{}, err
	}
	return w.Document(id)
}

func (w writer) SetDocument(d inventory.Document) error {
	return w.set("set document", "document",
		"UPDATE document SET place = ?, status = ?, ended_at = ?, ended_by = ?, body = ? WHERE id = ?",
		code(d.Place), d.Status, instant(d.EndedAt), d.EndedBy, d.Body, d.ID)
}
