package store

import (
	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type inspectionRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	BatchID    int64
	LotID      int64
	Item       string
	Place      string
	HappenedAt instant `gorm:"not null"`
	RecordedAt instant `gorm:"not null"`
	ByName     string
	Role       string
	Points     lines[inventory.PointCheck]
	Passed     bool
	Source     string
	Note       string
}

func (inspectionRow) TableName() string { return "inspection" }

func (i inspectionRow) value() inventory.Inspection {
	return inventory.Inspection{
		ID: i.ID, BatchID: i.BatchID, LotID: i.LotID, Item: i.Item, Place: i.Place,
		HappenedAt: inventory.Instant(i.HappenedAt),
		RecordedAt: inventory.Instant(i.RecordedAt), By: i.ByName, Role: inventory.Role(i.Role), Points: i.Points,
		Passed: i.Passed, Source: i.Source, Note: i.Note,
	}
}

// Inspections lists inspections, newest first.
func (r reader) Inspections(f inventory.BatchFilter, p inventory.Page) ([]inventory.Inspection, error) {
	return list(r.ofDevices(f, p), "list inspections", p, newestID, inspectionRow.value)
}

// ofDevices narrows a list of what was done with devices. All of it comes by when
// it happened.
func (r reader) ofDevices(f inventory.BatchFilter, p inventory.Page) *gorm.DB {
	q := ofBatches(r.gorm(), f, "batch_id")
	if p == (inventory.Page{}) {
		q = q.Order("happened_at DESC")
	}
	return q
}

// AddInspection keeps an inspection and gives it its id.
func (w writer) AddInspection(i inventory.Inspection) (inventory.Inspection, error) {
	row := inspectionRow{
		BatchID: i.BatchID, LotID: i.LotID, Item: i.Item, Place: i.Place, HappenedAt: instant(i.HappenedAt),
		RecordedAt: instant(i.RecordedAt),
		ByName:     i.By, Role: string(i.Role), Points: i.Points, Passed: i.Passed, Source: i.Source, Note: i.Note,
	}
	err := w.add("add inspection", "", &row)
	return row.value(), err
}

type trainingUseRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	BatchID    int64
	LotID      int64
	HappenedAt instant `gorm:"not null"`
	RecordedAt instant `gorm:"not null"`
	ByName     string
	Cycles     int
	Class      string
}

func (trainingUseRow) TableName() string { return "training_use" }

func (t trainingUseRow) value() inventory.TrainingUse {
	return inventory.TrainingUse{
		ID: t.ID, BatchID: t.BatchID, LotID: t.LotID, HappenedAt: inventory.Instant(t.HappenedAt),
		RecordedAt: inventory.Instant(t.RecordedAt),
		By:         t.ByName, Cycles: t.Cycles, Class: t.Class,
	}
}

// TrainingUses lists what classes did with devices, newest first.
func (r reader) TrainingUses(f inventory.BatchFilter, p inventory.Page) ([]inventory.TrainingUse, error) {
	return list(r.ofDevices(f, p), "list training uses", p, newestID, trainingUseRow.value)
}

// AddTrainingUse keeps a class's use of a device and gives it its id.
func (w writer) AddTrainingUse(t inventory.TrainingUse) (inventory.TrainingUse, error) {
	row := trainingUseRow{
		BatchID: t.BatchID, LotID: t.LotID, HappenedAt: instant(t.HappenedAt), RecordedAt: instant(t.RecordedAt),
		ByName: t.By, Cycles: t.Cycles, Class: t.Class,
	}
	err := w.add("add training use", "", &row)
	return row.value(), err
}
