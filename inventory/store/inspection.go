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
	By         string  `gorm:"column:by_name"`
	Role       string
	Points     lines[inventory.PointCheck]
	Passed     bool
	Source     string
	Note       string
}

func (inspectionRow) TableName() string { return "inspection" }

// Inspections lists inspections, newest first.
func (r reader) Inspections(f inventory.BatchFilter, p inventory.Page) ([]inventory.Inspection, error) {
	return list(r.ofDevices(f, p), "list inspections", p, newestID, convert[inventory.Inspection, inspectionRow])
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
	return keep[inspectionRow](w, "add inspection", "", i)
}

type trainingUseRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	BatchID    int64
	LotID      int64
	HappenedAt instant `gorm:"not null"`
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Cycles     int
	Class      string
}

func (trainingUseRow) TableName() string { return "training_use" }

// TrainingUses lists what classes did with devices, newest first.
func (r reader) TrainingUses(f inventory.BatchFilter, p inventory.Page) ([]inventory.TrainingUse, error) {
	return list(r.ofDevices(f, p), "list training uses", p, newestID, convert[inventory.TrainingUse, trainingUseRow])
}

// AddTrainingUse keeps a class's use of a device and gives it its id.
func (w writer) AddTrainingUse(t inventory.TrainingUse) (inventory.TrainingUse, error) {
	return keep[trainingUseRow](w, "add training use", "", t)
}
