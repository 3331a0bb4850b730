package store

import "stowkeeper/inventory"

type inspectionRow struct {
	ID, BatchID, LotID int64
	Item, Place        string
	HappenedAt         instant `gorm:"not null"`
	RecordedAt         instant `gorm:"not null"`
	By                 string  `gorm:"column:by_name"`
	Role               string
	Points             lines[inventory.PointCheck]
	Passed             bool
	Source, Note       string
}

func (r reader) Inspections(f inventory.BatchFilter, p inventory.Page) ([]inventory.Inspection, error) {
	return list[inventory.Inspection, inspectionRow](r, "list inspections", ofBatches(f, "batch_id"), p, newestDone(p))
}

// newestDone is the order of what was done with devices: a page of it comes by id, all of it by when it happened.
func newestDone(p inventory.Page) listKey {
	if p == (inventory.Page{}) {
		return listKey{column: "happened_at DESC, id", newest: true}
	}
	return newestID
}

func (w writer) AddInspection(i inventory.Inspection) (inventory.Inspection, error) {
	return keep[inspectionRow](w, "add inspection", "", i)
}

type trainingUseRow struct {
	ID, BatchID, LotID int64
	HappenedAt         instant `gorm:"not null"`
	RecordedAt         instant `gorm:"not null"`
	By                 string  `gorm:"column:by_name"`
	Cycles             int
	Class              string
}

func (r reader) TrainingUses(f inventory.BatchFilter, p inventory.Page) ([]inventory.TrainingUse, error) {
	return list[inventory.TrainingUse, trainingUseRow](r, "list training uses", ofBatches(f, "batch_id"), p, newestDone(p))
}

func (w writer) AddTrainingUse(t inventory.TrainingUse) (inventory.TrainingUse, error) {
	return keep[trainingUseRow](w, "add training use", "", t)
}
