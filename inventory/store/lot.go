package store

import "stowkeeper/inventory"

// lotColumns are a lot with its batch, as lotPlaces takes them.
const lotColumns = `l.id, l.stowed_on, l.opened_on, l.exposed_since, l.exposed_days, l.exposed_last, l.training,
    l.unidentified, l.parent, l.received_on, t.id, t.item, t.product, t.batch_no, t.serial, t.made_on, t.end_printed,
    t.end_wording, t.last_usable, t.formerly, t.merged_into, t.inspected_on, t.cycles, t.inspect_by, t.withdrawn`

const fromLots = " FROM lot l JOIN batch t ON t.id = l.batch_id"

// lotPlaces returns where the columns of a lot go.
func lotPlaces(l *inventory.Lot) []any {
	return []any{
		&l.ID, (*day)(&l.StowedOn), (*day)(&l.OpenedOn), (*day)(&l.ExposedSince), &l.ExposedDays, (*day)(&l.ExposedLast),
		&l.Training, &l.Unidentified, (*ref)(&l.Parent), (*day)(&l.ReceivedOn), &l.Batch.ID, &l.Item, (*ref)(&l.Product),
		&l.BatchNo, &l.Serial, (*day)(&l.MadeOn), &l.EndPrinted, &l.EndWording, (*day)(&l.LastUsable),
		(*lines[inventory.BatchFacts])(&l.Formerly), (*ref)(&l.MergedInto), (*day)(&l.InspectedOn), &l.Cycles,
		(*day)(&l.InspectBy), (*references)(&l.Withdrawn),
	}
}

func (r reader) lots(w where, tail string) ([]inventory.Lot, error) {
	return collect(r, "read lots", "SELECT "+lotColumns+fromLots+w.String()+tail, w.args, lotPlaces)
}

func (r reader) Lot(id int64) (inventory.Lot, error) {
	lots, err := r.lots(where{"l.id = ?", []any{id}}, "")
	return only(lots, err, "lot")
}

func (r reader) Lots(f inventory.LotFilter, p inventory.Page) ([]inventory.Lot, error) {
	var w where
	among(&w, "l.id IN ?", f.IDs)
	given(&w, "t.item = ?", f.Item)
	if f.BatchNo != "" {
		numbered(&w, f.BatchNo, false)
		w.and("NOT t.device")
	}
	if f.Serial != "" {
		numbered(&w, f.Serial, false)
		w.and("t.device")
	}
	given(&w, "l.batch_id IN (SELECT id FROM batch WHERE id = ? OR merged_into = ?)", f.Batch)
	if f.Number != "" {
		numbered(&w, f.Number, true)
	}
	w.when(f.Devices, "t.device")
	w.when(f.Held, "EXISTS (SELECT 1 FROM balance b WHERE b.lot_id = l.id)")
	given(&w, "EXISTS (SELECT 1 FROM balance b WHERE b.lot_id = l.id AND b.place = ?)", f.Place)
	given(&w, "t.device AND EXISTS (SELECT 1 FROM movement m WHERE m.into_lot_id = l.id AND m.to_place = ? AND NOT "+
		"EXISTS (SELECT 1 FROM movement n WHERE n.batch_id = m.batch_id AND n.id > m.id))", f.Last)
	among(&w, "l.id IN (SELECT b.lot_id FROM place p CROSS JOIN balance b WHERE b.place = p.code AND p.at_station IN ?)",
		f.Stations)
	tail, err := w.tail(p, listKey{"l.id", true, false})
	if err != nil {
		return nil, err
	}
	return r.lots(w, tail)
}

// EnsureLot returns the lot of a batch with those clocks, made if need be.
func (w writer) EnsureLot(batch int64, c inventory.Clocks, parent int64, receivedOn inventory.Day) (inventory.Lot,
	error) {
	l, err := w.lotWith(batch, c)
	if err == nil || inventory.KindOf(err) != inventory.NotFound {
		return l, err
	}
	// Another unit of work may add it in the meantime.
	if err := w.do("add lot", "", `INSERT INTO lot (batch_id, device, stowed_on, opened_on, exposed_since, exposed_days,
    exposed_last, training, unidentified, parent, received_on)
SELECT id, device, ?, ?, ?, ?, ?, ?, ?, ?, ? FROM batch WHERE id = ? ON CONFLICT DO NOTHING`, day(c.StowedOn),
		day(c.OpenedOn), day(c.ExposedSince), c.ExposedDays, day(c.ExposedLast), c.Training, c.Unidentified, ref(parent),
		day(receivedOn), batch); err != nil {
		return inventory.Lot{}, err
	}
	return w.lotWith(batch, c)
}

func (w writer) lotWith(batch int64, c inventory.Clocks) (inventory.Lot, error) {
	cond := where{args: []any{batch, day(c.StowedOn), day(c.OpenedOn), day(c.ExposedSince), c.ExposedDays,
		day(c.ExposedLast), c.Training, c.Unidentified}}
	lots, err := w.lots(cond, ` WHERE l.batch_id = ? AND l.stowed_on IS NOT DISTINCT FROM ?
AND l.opened_on IS NOT DISTINCT FROM ? AND l.exposed_since IS NOT DISTINCT FROM ? AND l.exposed_days = ?
AND l.exposed_last IS NOT DISTINCT FROM ? AND l.training = ? AND l.unidentified = ?`)
	return only(lots, err, "batch")
}
