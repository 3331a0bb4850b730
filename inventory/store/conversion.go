package store

import "stowkeeper/inventory"

// Conversions lists the changes of units, in the order in which they were made.
func (r reader) Conversions() ([]inventory.Conversion, error) {
	return collect(r, "list conversions", "SELECT id, item, old_unit, new_unit, old_qty, new_qty, until, recorded_at, "+
		"by_name, witness, reason FROM conversion ORDER BY id", nil, func(c *inventory.Conversion) []any {
		return []any{&c.ID, &c.Item, &c.OldUnit, &c.NewUnit, &c.Old, &c.New, &c.Until, (*instant)(&c.RecordedAt), &c.By,
			&c.Witness, &c.Reason}
	})
}

// AddConversion keeps a change of units after all that moved before.
func (w writer) AddConversion(c inventory.Conversion) error {
	return w.do("add conversion", "", "INSERT INTO conversion (item, old_unit, new_unit, old_qty, new_qty, recorded_at, "+
		"by_name, witness, reason, until) SELECT ?, ?, ?, ?, ?, ?, ?, ?, ?, coalesce(max(id), 0) FROM movement", c.Item,
		c.OldUnit, c.NewUnit, c.Old, c.New, instant(c.RecordedAt), c.By, c.Witness, c.Reason)
}
