package store

import "stowkeeper/inventory"

type bagLogRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Bag        string
	RecordedAt instant `gorm:"not null"`
	ByName     string
	Kind       string
	OldValue   string
	NewValue   string
	Reason     string
}

func (bagLogRow) TableName() string { return "bag_log" }

func (b bagLogRow) value() inventory.BagLogEntry {
	return inventory.BagLogEntry{
		ID: b.ID, Bag: b.Bag, RecordedAt: inventory.Instant(b.RecordedAt), By: b.ByName, Kind: inventory.BagLogKind(b.Kind),
		Old: b.OldValue,
		New: b.NewValue, Reason: b.Reason,
	}
}

// BagLog lists what people changed of bags, newest first.
func (r reader) BagLog(f inventory.RecordFilter, p inventory.Page) ([]inventory.BagLogEntry, error) {
	return list(records(r.gorm(), f, "recorded_at"), "list log of bags", p, newestID, bagLogRow.value)
}

// AddBagLog adds to a bag's log.
func (w writer) AddBagLog(e inventory.BagLogEntry) error {
	row := bagLogRow{
		Bag: e.Bag, RecordedAt: instant(e.RecordedAt), ByName: e.By, Kind: string(e.Kind), OldValue: e.Old, NewValue: e.New,
		Reason: e.Reason,
	}
	return w.add("add to log of a bag", "", &row)
}
