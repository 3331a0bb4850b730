package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// Stock returns what lies in places inside the service, by place and lot, in two queries: the lots with their
// batches, each once, then the quantities. Many places hold units of the same lot, and its facts are long.
func (r reader) Stock(f inventory.StockFilter) ([]inventory.Stock, error) {
	var w where
	among(&w, "p.at_station IN ?", f.Stations)
	among(&w, "p.kind IN ?", f.Kinds)
	given(&w, "p.purpose = ?", f.Purpose)
	among(&w, "b.place IN ?", f.Places)
	among(&w, "b.batch_id IN ?", f.Batches)
	among(&w, "b.lot_id IN ?", f.Lots)
	from := " FROM balance b JOIN place p ON p.code = b.place"
	if len(f.Items) > 0 {
		from += " JOIN batch i ON i.id = b.batch_id"
		among(&w, "i.item IN ?", f.Items)
	}
	from += w.String()
	lots, err := r.lotsOf("(SELECT b.lot_id"+from+")", w.args)
	if err != nil {
		return nil, err
	}
	out, err := r.quantities(from, w.args, lots)
	return out, failure("read stock", "", err)
}

// lotsOf reads the lots whose ids a query gives.
func (r reader) lotsOf(ids string, args []any) (map[int64]inventory.Lot, error) {
	list, err := r.lots(where{args: args}, " WHERE l.id IN "+ids)
	lots := make(map[int64]inventory.Lot, len(list))
	for _, l := range list {
		lots[l.ID] = l
	}
	return lots, err
}

func (r reader) quantities(from string, args []any, lots map[int64]inventory.Lot) ([]inventory.Stock, error) {
	var out []inventory.Stock
	var unknown []int // rows of a lot that another unit of work has added since
	var place sql.RawBytes
	last := ""
	err := r.each("SELECT b.place, b.lot_id, b.qty"+from+" ORDER BY b.place, b.lot_id", args, func(rows *sql.Rows) error {
		var s inventory.Stock
		var id int64
		err := rows.Scan(&place, &id, &s.Qty)
		if string(place) != last { // places repeat
			last = string(place)
		}
		lot, ok := lots[id]
		if !ok {
			lot.ID = id
			unknown = append(unknown, len(out))
		}
		s.Place, s.Lot = last, lot
		out = append(out, s)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, i := range unknown { // only inside a Write on PostgreSQL, whose statements see what was committed before each
		if out[i].Lot, err = r.Lot(out[i].Lot.ID); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// PastUsage lists past usage by station, item and period.
func (r reader) PastUsage(f inventory.UsageFilter) ([]inventory.PastUsage, error) {
	var w where
	among(&w, "station IN ?", f.Stations)
	given(&w, "item = ?", f.Item)
	return collect(r, "list past usage",
		"SELECT station, item, period, qty FROM past_usage"+w.String()+" ORDER BY station, item, period", w.args,
		func(u *inventory.PastUsage) []any { return []any{&u.Station, &u.Item, &u.Period, &u.Qty} })
}

// SetPastUsage keeps what was used in a period.
func (w writer) SetPastUsage(u inventory.PastUsage) error {
	return w.do("set past usage", "", `INSERT INTO past_usage (station, item, period, qty) VALUES (?, ?, ?, ?)
ON CONFLICT (station, item, period) DO UPDATE SET qty = excluded.qty`, u.Station, u.Item, u.Period, u.Qty)
}
