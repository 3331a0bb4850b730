package store

import "stowkeeper/inventory"

type restockRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Bag        string
	RecordedAt instant `gorm:"not null"`
	ByName     string
	Lines      lines[inventory.RestockLine]
	TakeOut    lines[inventory.TakeOutLine]
	SealSet    string
	Note       string
}

func (restockRow) TableName() string { return "restock" }

func (s restockRow) value() inventory.Restock {
	return inventory.Restock{
		ID: s.ID, Bag: s.Bag, RecordedAt: inventory.Instant(s.RecordedAt), By: s.ByName, Lines: s.Lines, TakeOut: s.TakeOut,
		SealSet: s.SealSet, Note: s.Note,
	}
}

// Restocks lists restocks, newest first.
func (r reader) Restocks(f inventory.RecordFilter, p inventory.Page) ([]inventory.Restock, error) {
	return list(records(r.gorm(), f, "recorded_at"), "list restocks", p, newestID, restockRow.value)
}

// AddRestock keeps a restock and gives it its id.
func (w writer) AddRestock(s inventory.Restock) (inventory.Restock, error) {
	row := restockRow{
		Bag: s.Bag, RecordedAt: instant(s.RecordedAt), ByName: s.By, Lines: s.Lines, TakeOut: s.TakeOut, SealSet: s.SealSet,
		Note: s.Note,
	}
	err := w.add("add restock", "", &row)
	return row.value(), err
}
