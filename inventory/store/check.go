package store

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type bagCheckRow struct {
	ID              int64
	Bag, Kind       string
	HappenedAt      instant `gorm:"not null"`
	RecordedAt      instant `gorm:"not null"`
	By              string  `gorm:"column:by_name"`
	SentBy          string
	SeenPosition    int64
	SealSeen        string
	SealBroken      bool
	SealSet         string
	Lines           lines[inventory.CheckLine]
	Found           lines[inventory.FoundLine]
	Inspections     lines[inventory.InspectedLine]
	Note, Status    string
	ReviewBecause   kept
	Decision        document[*inventory.Decision]
	RequestKey      code
	ReturnToService bool
	NotCounted      int
}

func (r reader) Check(id int64) (inventory.Check, error) {
	return take[inventory.Check, bagCheckRow](r, "check", "id = ?", id)
}

func (r reader) Checks(f inventory.RecordFilter, p inventory.Page) ([]inventory.Check, error) {
	return list[inventory.Check, bagCheckRow](r, "list checks", records(f, "happened_at"), p, newestID)
}

// records are the conditions on a list of what is recorded of bags. made is the column that says when.
func records(f inventory.RecordFilter, made string) (w where) {
	given(&w, "bag = ?", f.Bag)
	given(&w, "status = ?", f.Status)
	given(&w, "by_name = ?", f.By)
	if f.Claimed {
		w.and("sent_by <> ''")
	}
	given(&w, made+" >= ?", instant(f.Since))
	among(&w, bagAtStation, f.AtStations)
	return w
}

// sameNumber is true of rows with a number in a column, as inventory.FoldNumber folds it but for other dashes.
func sameNumber(column string) string {
	return "upper(replace(replace(" + column + ", '-', ''), ' ', '')) = ?"
}

// bagAtStation is true of rows whose bag is at one of some stations.
const bagAtStation = "bag IN (SELECT code FROM place WHERE kind = 'bag' AND at_station IN ?)"

func (w writer) AddCheck(c inventory.Check, key string) (inventory.Check, error) {
	return keep(w, "add check", "that check is recorded already", c,
		func(row *bagCheckRow) { row.RequestKey = code(key) })
}

// SetCheckOutcome stores what became of a check.
func (w writer) SetCheckOutcome(c inventory.Check) error {
	return w.setOutcome("check", "bag_check", c.ID, c.Status, c.ReviewBecause, c.Decision, c.SentBy)
}

// setOutcome stores what became of one check or use.
func (w writer) setOutcome(thing, table string, id int64, status inventory.RecordStatus, because message.Message,
	d *inventory.Decision, sentBy string) error {
	return w.set("set outcome of a "+thing, thing,
		"UPDATE "+table+" SET status = ?, review_because = ?, decision = ?, sent_by = ? WHERE id = ?",
		string(status), kept(because), document[*inventory.Decision]{Of: d}, sentBy, id)
}
