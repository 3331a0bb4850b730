package store

import "stowkeeper/inventory"

// outcome is what becomes of a check or a use: columns that both tables have.
type outcome struct {
	Status        string
	ReviewBecause string
	Decision      document[inventory.Decision]
}

func outcomeOf(status inventory.RecordStatus, because string, d *inventory.Decision) outcome {
	return outcome{Status: string(status), ReviewBecause: because, Decision: document[inventory.Decision]{d}}
}

// setOutcome stores what became of one check or use.
func (w writer) setOutcome(thing, table string, id int64, o outcome) error {
	return w.set("set outcome of a "+thing, thing,
		"UPDATE "+table+" SET status = ?, review_because = ?, decision = ? WHERE id = ?", o.Status, o.ReviewBecause,
		o.Decision, id)
}
