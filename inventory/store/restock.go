package store

import "stowkeeper/inventory"

type restockRow struct {
	ID            int64
	Bag           string
	RecordedAt    instant `gorm:"not null"`
	HappenedAt    instant
	By            string `gorm:"column:by_name"`
	Lines         lines[inventory.RestockLine]
	TakeOut       lines[inventory.TakeOutLine]
	SealSet, Note string
}

func (r reader) Restocks(f inventory.RecordFilter, p inventory.Page) ([]inventory.Restock, error) {
	return list[inventory.Restock, restockRow](r, "list restocks", records(f, "recorded_at"), p, newestID)
}

func (w writer) AddRestock(s inventory.Restock) (inventory.Restock, error) {
	return keep[restockRow](w, "add restock", "", s)
}
