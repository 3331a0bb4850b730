package store

import (
	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type checkRow struct {
	ID              int64 `gorm:"primaryKey;autoIncrement"`
	Bag             string
	Kind            string
	HappenedAt      instant `gorm:"not null"`
	RecordedAt      instant `gorm:"not null"`
	ByName          string
	SeenPosition    int64
	SealSeen        string
	SealBroken      bool
	SealSet         string
	Lines           lines[inventory.CheckLine]
	Found           lines[inventory.FoundLine]
	Inspections     lines[inventory.InspectedLine]
	Note            string
	Outcome         outcome `gorm:"embedded"`
	RequestKey      code
	ReturnToService bool
}

func (checkRow) TableName() string { return "bag_check" }

func (c checkRow) value() inventory.Check {
	return inventory.Check{
		ID: c.ID, Bag: c.Bag, Kind: inventory.CheckKind(c.Kind), HappenedAt: inventory.Instant(c.HappenedAt),
		RecordedAt: inventory.Instant(c.RecordedAt), By: c.ByName, SeenPosition: c.SeenPosition, SealSeen: c.SealSeen,
		SealBroken: c.SealBroken, SealSet: c.SealSet, Lines: c.Lines, Found: c.Found, Inspections: c.Inspections,
		Note: c.Note, ReturnToService: c.ReturnToService,
		Status: inventory.RecordStatus(c.Outcome.Status), ReviewBecause: c.Outcome.ReviewBecause,
		Decision: c.Outcome.Decision.of,
	}
}

// Check returns one check.
func (r reader) Check(id int64) (inventory.Check, error) {
	var row checkRow
	err := r.gorm().Where("id = ?", id).Take(&row).Error
	return row.value(), missing("read check", "check", err)
}

// Checks lists checks, newest first.
func (r reader) Checks(f inventory.RecordFilter, p inventory.Page) ([]inventory.Check, error) {
	return list(records(r.gorm(), f, "happened_at"), "list checks", p, newestID, checkRow.value)
}

// records narrows a list of what is recorded of bags.
// made is the column that says when.
func records(q *gorm.DB, f inventory.RecordFilter, made string) *gorm.DB {
	if f.Bag != "" {
		q = q.Where("bag = ?", f.Bag)
	}
	if f.Status != "" {
		q = q.Where("status = ?", string(f.Status))
	}
	if f.By != "" {
		q = q.Where("by_name = ?", f.By)
	}
	if f.Since != 0 {
		q = q.Where(made+" >= ?", instant(f.Since))
	}
	return atStations(q, f.AtStations)
}

// atStations narrows rows with a bag to bags that are at some stations.
func atStations(q *gorm.DB, stations []string) *gorm.DB {
	if len(stations) == 0 {
		return q
	}
	return q.Where("bag IN (SELECT code FROM place WHERE kind = 'bag' AND at_station IN ?)", stations)
}

// AddCheck keeps a check and gives it its id.
func (w writer) AddCheck(c inventory.Check, key string) (inventory.Check, error) {
	row := checkRow{
		Bag: c.Bag, Kind: string(c.Kind), HappenedAt: instant(c.HappenedAt), RecordedAt: instant(c.RecordedAt), ByName: c.By,
		SeenPosition: c.SeenPosition, SealSeen: c.SealSeen, SealBroken: c.SealBroken, SealSet: c.SealSet, Lines: c.Lines,
		Found: c.Found, Inspections: c.Inspections, Note: c.Note, Outcome: outcomeOf(c.Status, c.ReviewBecause, c.Decision),
		RequestKey: code(key), ReturnToService: c.ReturnToService,
	}
	err := w.add("add check", "that check is recorded already", &row)
	return row.value(), err
}

// SetCheckOutcome stores what became of a check.
func (w writer) SetCheckOutcome(c inventory.Check) error {
	return w.setOutcome("check", "bag_check", c.ID, outcomeOf(c.Status, c.ReviewBecause, c.Decision))
}
