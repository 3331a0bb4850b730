package store

import "stowkeeper/inventory"

type deliveryRow struct {
	ID        int64 `gorm:"primaryKey;autoIncrement"`
	Place     string
	Reference string
	Status    string
	StartedAt instant `gorm:"not null"`
	StartedBy string
	EndedAt   instant
	EndedBy   string
	Last      int `gorm:"column:last_line"`
	Lines     lines[inventory.DeliveryLine]
}

func (deliveryRow) TableName() string { return "delivery" }

// Delivery returns one delivery.
func (r reader) Delivery(id int64) (inventory.Delivery, error) {
	return take(r.gorm().Where("id = ?", id), "delivery", convert[inventory.Delivery, deliveryRow])
}

// OpenDeliveries lists the deliveries of stations that are still being scanned,
// newest first; of every station where none is named.
func (r reader) OpenDeliveries(stations []string) ([]inventory.Delivery, error) {
	q := r.gorm().Where("status = 'open'")
	if len(stations) > 0 {
		q = q.Where("place IN (SELECT code FROM place WHERE station IN ?)", stations)
	}
	return gather(q.Order("id DESC"), "list deliveries", convert[inventory.Delivery, deliveryRow])
}

// AddDelivery keeps a delivery and gives it its id.
func (w writer) AddDelivery(d inventory.Delivery) (inventory.Delivery, error) {
	return keep[deliveryRow](w, "add delivery", "", d)
}

// LockDelivery locks a delivery until the unit of work ends, and returns what
// is kept of it then.
func (w writer) LockDelivery(id int64) (inventory.Delivery, error) {
	if w.s.engine != SQLite {
		err := w.step("lock delivery", "", func() error {
			_, err := w.exec("SELECT id FROM delivery WHERE id = ? FOR NO KEY UPDATE", id)
			return err
		})
		if err != nil {
			return inventory.Delivery{}, err
		}
	}
	return w.Delivery(id)
}

// SetDelivery stores what may change of a delivery.
func (w writer) SetDelivery(d inventory.Delivery) error {
	return w.set("set delivery", "delivery",
		"UPDATE delivery SET reference = ?, status = ?, ended_at = ?, ended_by = ?, last_line = ?, lines = ? WHERE id = ?",
		d.Reference, string(d.Status), instant(d.EndedAt), d.EndedBy, d.Last, lines[inventory.DeliveryLine](d.Lines), d.ID)
}
