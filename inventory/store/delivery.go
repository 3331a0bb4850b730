package store

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type deliveryRow struct {
	ID                       int64
	Place, Reference, Status string
	StartedAt                instant `gorm:"not null"`
	StartedBy, EndedBy       string
	EndedAt                  instant
	Last                     int `gorm:"column:last_line"`
	Lines                    lines[deliveryLine]
}

// deliveryLine is a line with its warnings as they are kept.
type deliveryLine struct {
	inventory.DeliveryLine
	Warnings []kept `json:"warnings,omitempty"`
}

func (d deliveryRow) value() inventory.Delivery {
	out := convert[inventory.Delivery](d)
	for _, l := range d.Lines {
		l.DeliveryLine.Warnings = nil
		for _, w := range l.Warnings {
			l.DeliveryLine.Warnings = append(l.DeliveryLine.Warnings, message.Message(w))
		}
		out.Lines = append(out.Lines, l.DeliveryLine)
	}
	return out
}

func deliveryLines(of []inventory.DeliveryLine) (out lines[deliveryLine]) {
	for _, l := range of {
		k := deliveryLine{DeliveryLine: l}
		for _, w := range l.Warnings {
			k.Warnings = append(k.Warnings, kept(w))
		}
		out = append(out, k)
	}
	return out
}

func (r reader) Delivery(id int64) (inventory.Delivery, error) {
	row, err := take[deliveryRow, deliveryRow](r, "delivery", "id = ?", id)
	return row.value(), err
}

// OpenDeliveries lists the deliveries of stations that are still being scanned,
// newest first; of every station where none is named.
func (r reader) OpenDeliveries(stations []string) ([]inventory.Delivery, error) {
	var w where
	w.and("status = 'open'")
	among(&w, "place IN (SELECT code FROM place WHERE station IN ?)", stations)
	rows, err := list[deliveryRow, deliveryRow](r, "list deliveries", w, inventory.Page{}, newestID)
	return mapped(rows, deliveryRow.value), err
}

func (w writer) AddDelivery(d inventory.Delivery) (inventory.Delivery, error) {
	row := convert[deliveryRow](d)
	row.ID, row.Lines = 0, deliveryLines(d.Lines)
	err := w.add("add delivery", "", &row)
	return row.value(), err
}

// LockDelivery locks a delivery until the unit of work ends, and returns what is kept of it then.
func (w writer) LockDelivery(id int64) (inventory.Delivery, error) {
	if err := w.lockRow("delivery", id); err != nil {
		return inventory.Delivery{}, err
	}
	return w.Delivery(id)
}

// SetDelivery stores what may change of a delivery.
func (w writer) SetDelivery(d inventory.Delivery) error {
	return w.set("set delivery", "delivery",
		"UPDATE delivery SET reference = ?, status = ?, ended_at = ?, ended_by = ?, last_line = ?, lines = ? WHERE id = ?",
		d.Reference, string(d.Status), instant(d.EndedAt), d.EndedBy, d.Last, deliveryLines(d.Lines), d.ID)
}
