package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

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

func (r reader) LastEnded(k inventory.DocumentKind, status string) (map[string]inventory.Instant, error) {
	out := map[string]inventory.Instant{}
	err := r.each("SELECT place, max(ended_at) FROM document WHERE kind = ? AND status = ? AND place IS NOT NULL "+
		"GROUP BY place", []any{string(k), status}, func(rows *sql.Rows) error {
		var place string
		var at instant
		err := rows.Scan(&place, &at)
		out[place] = inventory.Instant(at)
		return err
	})
	return out, failure("list ends of documents", "", err)
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
