package store

import "stowkeeper/inventory"

type useRow struct {
	ID           int64 `gorm:"primaryKey;autoIncrement"`
	Bag          string
	Incident     string
	HappenedAt   instant `gorm:"not null"`
	RecordedAt   instant `gorm:"not null"`
	ByName       string
	SeenPosition int64
	SealSeen     string
	SealSet      string
	Lines        lines[inventory.UseLine]
	Note         string
	Outcome      outcome `gorm:"embedded"`
	RequestKey   code
}

func (useRow) TableName() string { return "bag_use" }

func (u useRow) value() inventory.Use {
	return inventory.Use{
		ID: u.ID, Bag: u.Bag, Incident: u.Incident, HappenedAt: inventory.Instant(u.HappenedAt),
		RecordedAt: inventory.Instant(u.RecordedAt),
		By:         u.ByName, SeenPosition: u.SeenPosition, SealSeen: u.SealSeen, SealSet: u.SealSet, Lines: u.Lines,
		Note:   u.Note,
		Status: inventory.RecordStatus(u.Outcome.Status), ReviewBecause: u.Outcome.ReviewBecause,
		Decision: u.Outcome.Decision.of,
	}
}

// Use returns one use.
func (r reader) Use(id int64) (inventory.Use, error) {
	var row useRow
	err := r.gorm().Where("id = ?", id).Take(&row).Error
	return row.value(), missing("read use", "use", err)
}

// Uses lists uses, newest first.
func (r reader) Uses(f inventory.RecordFilter, p inventory.Page) ([]inventory.Use, error) {
	return list(records(r.gorm(), f, "happened_at"), "list uses", p, newestID, useRow.value)
}

// AddUse keeps a use and gives it its id.
func (w writer) AddUse(u inventory.Use, key string) (inventory.Use, error) {
	row := useRow{
		Bag: u.Bag, Incident: u.Incident, HappenedAt: instant(u.HappenedAt), RecordedAt: instant(u.RecordedAt), ByName: u.By,
		SeenPosition: u.SeenPosition, SealSeen: u.SealSeen, SealSet: u.SealSet, Lines: u.Lines, Note: u.Note,
		Outcome: outcomeOf(u.Status, u.ReviewBecause, u.Decision), RequestKey: code(key),
	}
	err := w.add("add use", "that use is recorded already", &row)
	return row.value(), err
}

// SetUseOutcome stores what became of a use.
func (w writer) SetUseOutcome(u inventory.Use) error {
	return w.setOutcome("use", "bag_use", u.ID, outcomeOf(u.Status, u.ReviewBecause, u.Decision))
}
