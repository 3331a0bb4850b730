package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// movementRead are the columns of a movement as scanMovement reads them.
const movementRead = `m.id, m.station, m.seq, m.lot_id, m.into_lot_id, m.qty, m.from_place, m.to_place, m.reason,
    m.cause, m.happened_at, m.recorded_at, m.by_name, m.witness, m.reference, m.note, m.corrects, m.prev_hash, m.hash`

func scanMovement(rows *sql.Rows, more ...any) (m inventory.Movement, err error) {
	err = rows.Scan(append([]any{&m.ID, &m.Station, &m.Seq, &m.LotID, &m.IntoLotID, &m.Qty, &m.From, &m.To, &m.Reason,
		&m.Cause,
		(*instant)(&m.HappenedAt), (*instant)(&m.RecordedAt), &m.By, &m.Witness, &m.Reference, &m.Note, (*ref)(&m.Corrects),
		&m.PrevHash, &m.Hash}, more...)...)
	return m, err
}

func (r reader) movements(from string, w where, tail string) ([]inventory.Movement, error) {
	var out []inventory.Movement
	err := r.each("SELECT "+movementRead+" FROM movement m"+from+w.String()+tail, w.args, func(rows *sql.Rows) error {
		m, err := scanMovement(rows)
		out = append(out, m)
		return err
	})
	return out, failure("read movements", "", err)
}

// Movement returns one movement.
func (r reader) Movement(id int64) (inventory.Movement, error) {
	var w where
	w.and("m.id = ?", id)
	ms, err := r.movements("", w, "")
	return only(ms, err, "movement")
}

// Movements lists movements by id.
func (r reader) Movements(f inventory.MovementFilter, p inventory.Page) ([]inventory.Movement, error) {
	var w where
	is(&w, "m.station", f.Station)
	if len(f.Stations) > 0 {
		in := marks(len(f.Stations))
		w.and("(m.station IN "+in+
			" OR EXISTS (SELECT 1 FROM place p WHERE p.code IN (m.from_place, m.to_place) AND (p.station IN "+in+
			" OR p.at_station IN "+in+")))", append(append(anys(f.Stations), anys(f.Stations)...), anys(f.Stations)...)...)
	}
	if f.Place != "" {
		w.and("(m.from_place = ? OR m.to_place = ?)", f.Place, f.Place)
	}
	if f.LotID != 0 {
		w.and("(m.lot_id = ? OR m.into_lot_id = ?)", f.LotID, f.LotID)
	}
	is(&w, "m.batch_id", f.Batch)
	within(&w, "m.batch_id", f.Batches)
	is(&w, "m.reason", string(f.Reason))
	is(&w, "m.reference", f.Reference)
	if f.Since != 0 {
		w.and("m.recorded_at >= ?", instant(f.Since))
	}
	from := ""
	if f.Item != "" {
		from = " JOIN batch t ON t.id = m.batch_id"
		w.and("t.item = ?", f.Item)
	}
	tail, err := w.after(p, "m.id", true, f.Newest)
	if err != nil {
		return nil, err
	}
	return r.movements(from, w, tail)
}
