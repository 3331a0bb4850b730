package store

import "stowkeeper/inventory"

type useRow struct {
	ID            int64 `gorm:"primaryKey;autoIncrement"`
	Bag           string
	Incident      string
	HappenedAt    instant `gorm:"not null"`
	RecordedAt    instant `gorm:"not null"`
	By            string  `gorm:"column:by_name"`
	SeenPosition  int64
	SealSeen      string
	SealSet       string
	Lines         lines[inventory.UseLine]
	Note          string
	Status        string
	ReviewBecause string
	Decision      document[inventory.Decision]
	RequestKey    code
}

func (useRow) TableName() string { return "bag_use" }

func (u useRow) value() inventory.Use {
	out := convert[inventory.Use](u)
	out.Decision = u.Decision.of
	return out
}

// Use returns one use.
func (r reader) Use(id int64) (inventory.Use, error) {
	return take(r.gorm().Where("id = ?", id), "use", useRow.value)
}

// Uses lists uses, newest first.
func (r reader) Uses(f inventory.RecordFilter, p inventory.Page) ([]inventory.Use, error) {
	return list(records(r.gorm(), f, "happened_at"), "list uses", p, newestID, useRow.value)
}

// AddUse keeps a use and gives it its id.
func (w writer) AddUse(u inventory.Use, key string) (inventory.Use, error) {
	row := convert[useRow](u)
	row.ID, row.RequestKey, row.Decision = 0, code(key), document[inventory.Decision]{u.Decision}
	err := w.add("add use", "that use is recorded already", &row)
	return row.value(), err
}

// SetUseOutcome stores what became of a use.
func (w writer) SetUseOutcome(u inventory.Use) error {
	return w.setOutcome("use", "bag_use", u.ID, u.Status, u.ReviewBecause, u.Decision)
}
