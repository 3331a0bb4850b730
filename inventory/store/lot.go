package store

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

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

type lotRow struct {
	ID, BatchID                                               int64
	StowedOn, OpenedOn, ExposedSince, ExposedLast, ReceivedOn day
	ExposedDays                                               int
	Device, Training, Unidentified                            bool
	Parent                                                    ref
}

// EnsureLots returns lots by their batches and clocks, made if need be.
func (w writer) EnsureLots(ls []inventory.Lot) (out []inventory.Lot, err error) {
	for range 3 { // another unit of work may add one in the meantime, and then it is there
		err = w.step("add lots", "lot added at the same time", func() error {
			out, err = w.lotsLike(ls)
			return err
		})
		if inventory.KindOf(err) != inventory.Conflict {
			break
		}
	}
	return out, err
}

func (w writer) lotsLike(ls []inventory.Lot) ([]inventory.Lot, error) {
	type key struct {
		batch int64
		inventory.Clocks
	}
	out, known := slices.Clone(ls), map[key]inventory.Lot{}
	of := mapped(ls, func(l inventory.Lot) any { return l.Batch.ID })
	there, err := w.lots(where{"l.batch_id IN " + sqltext.Marks(len(of)), of}, "")
	for _, l := range there {
		known[key{l.Batch.ID, l.Clocks}] = l
	}
	var rows []lotRow
	var made []int
	for i, l := range ls {
		if of, is := known[key{l.Batch.ID, l.Clocks}]; is {
			out[i] = of
			continue
		}
		row := convert[lotRow](l)
		row.ID, row.BatchID, row.Device = 0, l.Batch.ID, l.Device()
		rows, made = append(rows, row), append(made, i)
	}
	err = cmp.Or(err, w.insert(rows))
	for n, row := range rows {
		out[made[n]].ID = row.ID
	}
	return out, err
}
