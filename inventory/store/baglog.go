package store

import "stowkeeper/inventory"

type bagLogRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Bag        string
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Kind       string
	Old        string `gorm:"column:old_value"`
	New        string `gorm:"column:new_value"`
	Reason     string
}

func (bagLogRow) TableName() string { return "bag_log" }

// BagLog lists what people changed of bags, newest first.
func (r reader) BagLog(f inventory.RecordFilter, p inventory.Page) ([]inventory.BagLogEntry, error) {
	return list(records(r.gorm(), f, "recorded_at"), "list log of bags", p, newestID,
		convert[inventory.BagLogEntry, bagLogRow])
}

// AddBagLog adds to a bag's log.
func (w writer) AddBagLog(e inventory.BagLogEntry) error {
	_, err := keep[bagLogRow](w, "add to log of a bag", "", e)
	return err
}
