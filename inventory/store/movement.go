package store

import "stowkeeper/inventory"

// movementRead are the columns of a movement, as movementPlaces takes them.
const movementRead = `m.id, m.station, m.seq, m.lot_id, m.into_lot_id, m.qty, m.from_place, m.to_place, m.reason,
    m.cause, m.happened_at, m.recorded_at, m.by_name, m.witness, m.reference, m.note, m.corrects, m.prev_hash, m.hash`

func movementPlaces(m *inventory.Movement) []any {
	return []any{&m.ID, &m.Station, &m.Seq, &m.LotID, &m.IntoLotID, &m.Qty, &m.From, &m.To, &m.Reason, &m.Cause,
		(*instant)(&m.HappenedAt), (*instant)(&m.RecordedAt), &m.By, &m.Witness, &m.Reference, &m.Note,
		(*ref)(&m.Corrects), &m.PrevHash, &m.Hash}
}

func (r reader) movements(from string, w where, tail string) ([]inventory.Movement, error) {
	return collect(r, "read movements", "SELECT "+movementRead+" FROM movement m"+from+w.String()+tail, w.args,
		movementPlaces)
}

func (r reader) Movement(id int64) (inventory.Movement, error) {
	var w where
	w.and("m.id = ?", id)
	ms, err := r.movements("", w, "")
	return only(ms, err, "movement")
}

func (r reader) Movements(f inventory.MovementFilter, p inventory.Page) ([]inventory.Movement, error) {
	var w where
	given(&w, "m.station = ?", f.Station)
	among(&w, "(m.station IN ? OR EXISTS (SELECT 1 FROM place p WHERE p.code IN (m.from_place, m.to_place) AND "+
		"(p.station IN ? OR p.at_station IN ?)) OR EXISTS (SELECT 1 FROM place_moved v WHERE "+
		"v.place IN (m.from_place, m.to_place) AND m.id <= v.until AND v.station IN ?))", f.Stations)
	given(&w, "(m.from_place = ? OR m.to_place = ?)", f.Place)
	given(&w, "(m.lot_id = ? OR m.into_lot_id = ?)", f.LotID)
	given(&w, "m.batch_id = ?", f.Batch)
	among(&w, "m.batch_id IN ?", f.Batches)
	given(&w, "m.reason = ?", f.Reason)
	among(&w, "m.reference IN ?", f.References)
	given(&w, "m.recorded_at >= ?", instant(f.Since))
	from := ""
	if f.Item != "" {
		from = " JOIN batch t ON t.id = m.batch_id"
		w.and("t.item = ?", f.Item)
	}
	tail, err := w.tail(p, listKey{"m.id", true, f.Newest})
	if err != nil {
		return nil, err
	}
	return r.movements(from, w, tail)
}
