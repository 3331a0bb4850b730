package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// bagEventRow is one thing that moved a bag's position on.
type bagEventRow struct {
	Bag                string `gorm:"primaryKey"`
	Position           int64  `gorm:"primaryKey;autoIncrement:false"`
	Kind               string
	MovementID, SealID ref
}

// The kinds of event.
const (
	eventMovement = "movement"
	eventSeal     = "seal"
	eventList     = "list"
)

// moveOn moves a bag's position on by one for each event and keeps them.
func (w writer) moveOn(bag string, events []bagEventRow) error {
	w.touched.Bag(bag)
	var now int64
	err := w.tx.QueryRowContext(w.ctx,
		w.s.bind("UPDATE bag SET position = position + ? WHERE code = ? RETURNING position"),
		len(events), bag).Scan(&now)
	if err == sql.ErrNoRows {
		return notFound("bag")
	}
	if err != nil {
		return err
	}
	for i := range events {
		events[i].Bag, events[i].Position = bag, now-int64(len(events)-1-i)
	}
	return w.insert(events)
}

// MovedSince sums what movements after a position did to each lot in a bag. Lots that came out even are left out.
func (r reader) MovedSince(bag string, position int64) (map[int64]int, error) {
	moved := map[int64]int{}
	err := r.each(`SELECT m.lot_id, m.into_lot_id, m.qty, m.from_place, m.to_place
FROM bag_event e JOIN movement m ON m.id = e.movement_id
WHERE e.bag = ? AND e.position > ?`, []any{bag, position}, func(rows *sql.Rows) error {
		var m inventory.Movement
		err := rows.Scan(&m.LotID, &m.IntoLotID, &m.Qty, &m.From, &m.To)
		if m.From == bag {
			moved[m.LotID] -= m.Qty
		}
		if m.To == bag {
			moved[m.IntoLotID] += m.Qty
		}
		return err
	})
	for lot, qty := range moved {
		if qty == 0 {
			delete(moved, lot)
		}
	}
	return moved, failure("sum movements of a bag", "", err)
}

// BagEvents lists what moved a bag's position on after a position, in order.
func (r reader) BagEvents(bag string, after int64) ([]inventory.BagEvent, error) {
	var out []inventory.BagEvent
	err := r.each(
		`SELECT e.kind, COALESCE(m.by_name, s.by_name, ''), m.happened_at, s.happened_at, COALESCE(m.reference, '')
FROM bag_event e LEFT JOIN movement m ON m.id = e.movement_id LEFT JOIN seal s ON s.id = e.seal_id
WHERE e.bag = ? AND e.position > ? ORDER BY e.position`, []any{bag, after}, func(rows *sql.Rows) error {
			var x inventory.BagEvent
			var kind string
			var moved, sealed instant
			err := rows.Scan(&kind, &x.By, &moved, &sealed, &x.Incident)
			x.HappenedAt, x.Moved = inventory.Instant(max(moved, sealed)), kind == eventMovement
			out = append(out, x)
			return err
		})
	return out, failure("list what changed a bag", "", err)
}
