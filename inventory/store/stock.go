package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

// Stock returns what lies in places inside the service, by place and lot, in
// one query.
func (r reader) Stock(f inventory.StockFilter) ([]inventory.Stock, error) {
	var w where
	within(&w, "p.at_site", f.Sites)
	within(&w, "p.kind", f.Kinds)
	is(&w, "p.purpose", string(f.Purpose))
	within(&w, "b.place", f.Places)
	is(&w, "t.item", f.Item)
	is(&w, "b.batch_id", f.Batch)
	is(&w, "b.lot_id", f.LotID)
	within(&w, "b.lot_id", f.Lots)
	var out []inventory.Stock
	err := r.each("SELECT "+lotColumns+`, b.place, b.qty
FROM balance b JOIN place p ON p.code = b.place JOIN lot l ON l.id = b.lot_id JOIN batch t ON t.id = b.batch_id`+
		w.String()+" ORDER BY b.place, b.lot_id", w.args, func(rows *sql.Rows) error {
		var s inventory.Stock
		err := rows.Scan(lotScan(&s.Lot, &s.Place, &s.Qty)...)
		out = append(out, s)
		return err
	})
	return out, failure("read stock", "", err)
}
