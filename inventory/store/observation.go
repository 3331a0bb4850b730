package store

import "stowkeeper/inventory"

type observationRow struct {
	ID                    int64
	Bag, Kind             string
	Item                  code
	LotID                 ref
	Text                  kept `gorm:"column:body"`
	Source                string
	OpenedAt              instant `gorm:"not null"`
	OpenedBy              string
	ClosedAt              instant
	ClosedBy, CloseReason string
}

func (r reader) Observations(f inventory.ObservationFilter) ([]inventory.Observation, error) {
	var w where
	among(&w, bagAtStation, f.AtStations)
	among(&w, "bag IN ?", f.Bags)
	w.when(f.Open, "closed_at IS NULL")
	return list[inventory.Observation, observationRow](r, "list observations", w, inventory.Page{}, byID)
}

func (w writer) AddObservation(o inventory.Observation) (inventory.Observation, error) {
	return keep[observationRow](w, "add observation", "", o)
}

// CloseObservation closes an open observation.
func (w writer) CloseObservation(o inventory.Observation) error {
	return w.closeOnce("observation", "close_reason = ?", o.ID, instant(o.ClosedAt), o.ClosedBy, o.CloseReason)
}

// closeOnce closes a row of a table that is open.
func (w writer) closeOnce(table, set string, id int64, values ...any) error {
	return w.step("close "+table, "", func() error {
		n, err := w.exec("UPDATE "+table+" SET closed_at = ?, closed_by = ?, "+set+" WHERE id = ? AND closed_at IS NULL",
			append(values, id)...)
		if err != nil || n == 1 {
			return err
		}
		var known int64
		if err := w.gorm().Table(table).Where("id = ?", id).Count(&known).Error; err != nil {
			return err
		}
		if known == 0 {
			return notFound(table)
		}
		return inventory.Refuse(inventory.Conflict, "closed already")
	})
}
