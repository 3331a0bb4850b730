package store

import "stowkeeper/inventory"

type observationRow struct {
	ID          int64 `gorm:"primaryKey;autoIncrement"`
	Bag         string
	Kind        string
	Item        code
	LotID       ref
	Text        string `gorm:"column:body"`
	Source      string
	OpenedAt    instant `gorm:"not null"`
	OpenedBy    string
	ClosedAt    instant
	ClosedBy    string
	CloseReason string
}

func (observationRow) TableName() string { return "observation" }

// Observations lists observations by id.
func (r reader) Observations(f inventory.ObservationFilter) ([]inventory.Observation, error) {
	q := atStations(r.gorm(), f.AtStations)
	if len(f.Bags) > 0 {
		q = q.Where("bag IN ?", f.Bags)
	}
	if f.Open {
		q = q.Where("closed_at IS NULL")
	}
	return list(q, "list observations", inventory.Page{}, byID, convert[inventory.Observation, observationRow])
}

// AddObservation keeps an observation and gives it its id.
func (w writer) AddObservation(o inventory.Observation) (inventory.Observation, error) {
	return keep[observationRow](w, "add observation", "", o)
}

// CloseObservation closes an open observation.
func (w writer) CloseObservation(o inventory.Observation) error {
	return w.step("close observation", "", func() error {
		n, err := w.exec("UPDATE observation SET closed_at = ?, closed_by = ?, close_reason = ? WHERE id = ? AND closed_at "+
			"IS NULL",
			instant(o.ClosedAt), o.ClosedBy, o.CloseReason, o.ID)
		if err != nil || n == 1 {
			return err
		}
		var known int64
		if err := w.gorm().Model(&observationRow{}).Where("id = ?", o.ID).Count(&known).Error; err != nil {
			return err
		}
		if known == 0 {
			return notFound("observation")
		}
		return inventory.Errorf(inventory.Conflict, "that observation is closed already")
	})
}
