package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// PastUsage lists past usage by site, item and period.
func (r reader) PastUsage(f inventory.UsageFilter) ([]inventory.PastUsage, error) {
	var w where
	within(&w, "site", f.Sites)
	is(&w, "item", f.Item)
	var out []inventory.PastUsage
	err := r.each("SELECT site, item, period, qty FROM past_usage"+w.String()+" ORDER BY site, item, period", w.args, func(rows *sql.Rows) error {
		var u inventory.PastUsage
		err := rows.Scan(&u.Site, &u.Item, &u.Period, &u.Qty)
		out = append(out, u)
		return err
	})
	return out, failure("list past usage", "", err)
}

// SetPastUsage keeps what was used in a period.
func (w writer) SetPastUsage(u inventory.PastUsage) error {
	return w.step("set past usage", "", func() error {
		_, err := w.exec("INSERT INTO past_usage (site, item, period, qty) VALUES (?, ?, ?, ?) ON CONFLICT (site, item, period) DO UPDATE SET qty = excluded.qty",
			u.Site, u.Item, u.Period, u.Qty)
		return err
	})
}
