package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// PastUsage lists past usage by station, item and period.
func (r reader) PastUsage(f inventory.UsageFilter) ([]inventory.PastUsage, error) {
	var w where
	within(&w, "station", f.Stations)
	is(&w, "item", f.Item)
	var out []inventory.PastUsage
	err := r.each("SELECT station, item, period, qty FROM past_usage"+w.String()+" ORDER BY station, item, period", w.args,
		func(rows *sql.Rows) error {
			var u inventory.PastUsage
			err := rows.Scan(&u.Station, &u.Item, &u.Period, &u.Qty)
			out = append(out, u)
			return err
		})
	return out, failure("list past usage", "", err)
}

// SetPastUsage keeps what was used in a period.
func (w writer) SetPastUsage(u inventory.PastUsage) error {
	return w.do("set past usage", "", `INSERT INTO past_usage (station, item, period, qty) VALUES (?, ?, ?, ?)
ON CONFLICT (station, item, period) DO UPDATE SET qty = excluded.qty`, u.Station, u.Item, u.Period, u.Qty)
}
