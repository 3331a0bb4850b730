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
	By              string  `gorm:"column:by_name"`
	SeenPosition    int64
	SealSeen        string
	SealBroken      bool
	SealSet         string
	Lines           lines[inventory.CheckLine]
	Found           lines[inventory.FoundLine]
	Inspections     lines[inventory.InspectedLine]
	Note            string
	Status          string
	ReviewBecause   string
	Decision        document[inventory.Decision]
	RequestKey      code
	ReturnToService bool
}

func (checkRow) TableName() string { return "bag_check" }

func (c checkRow) value() inventory.Check {
	out := convert[inventory.Check](c)
	out.Decision = c.Decision.of
	return out
}

// Check returns one check.
func (r reader) Check(id int64) (inventory.Check, error) {
	return take(r.gorm().Where("id = ?", id), "check", checkRow.value)
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
	row := convert[checkRow](c)
	row.ID, row.RequestKey, row.Decision = 0, code(key), document[inventory.Decision]{c.Decision}
	err := w.add("add check", "that check is recorded already", &row)
	return row.value(), err
}

// SetCheckOutcome stores what became of a check.
func (w writer) SetCheckOutcome(c inventory.Check) error {
	return w.setOutcome("check", "bag_check", c.ID, c.Status, c.ReviewBecause, c.Decision)
}
