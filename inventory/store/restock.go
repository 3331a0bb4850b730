package store

import "stowkeeper/inventory"

type restockRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Bag        string
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Lines      lines[inventory.RestockLine]
	TakeOut    lines[inventory.TakeOutLine]
	SealSet    string
	Note       string
}

func (restockRow) TableName() string { return "restock" }

// Restocks lists restocks, newest first.
func (r reader) Restocks(f inventory.RecordFilter, p inventory.Page) ([]inventory.Restock, error) {
	return list(records(r.gorm(), f, "recorded_at"), "list restocks", p, newestID, convert[inventory.Restock, restockRow])
}

// AddRestock keeps a restock and gives it its id.
func (w writer) AddRestock(s inventory.Restock) (inventory.Restock, error) {
	return keep[restockRow](w, "add restock", "", s)
}
