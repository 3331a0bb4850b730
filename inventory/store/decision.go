package store

import "stowkeeper/inventory"

// setOutcome stores what became of one check or use.
func (w writer) setOutcome(thing, table string, id int64, status inventory.RecordStatus, because string,
	d *inventory.Decision) error {
	return w.set("set outcome of a "+thing, thing,
		"UPDATE "+table+" SET status = ?, review_because = ?, decision = ? WHERE id = ?",
		string(status), because, document[inventory.Decision]{d}, id)
}
