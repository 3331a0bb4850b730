package store

import "stowkeeper/inventory"

type bagUseRow struct {
	ID                int64
	Bag, Incident     string
	HappenedAt        instant `gorm:"not null"`
	RecordedAt        instant `gorm:"not null"`
	By                string  `gorm:"column:by_name"`
	SentBy            string
	SeenPosition      int64
	SealSeen, SealSet string
	Lines             lines[inventory.UseLine]
	Note, Status      string
	ReviewBecause     kept
	Decision          document[*inventory.Decision]
	RequestKey        code
}

func (r reader) Use(id int64) (inventory.Use, error) {
	return take[inventory.Use, bagUseRow](r, "use", "id = ?", id)
}

func (r reader) Uses(f inventory.RecordFilter, p inventory.Page) ([]inventory.Use, error) {
	w := records(f, "happened_at")
	given(&w, sameNumber("incident"), inventory.FoldNumber(f.Number))
	return list[inventory.Use, bagUseRow](r, "list uses", w, p, newestID)
}

func (w writer) AddUse(u inventory.Use, key string) (inventory.Use, error) {
	return keep(w, "add use", "that use is recorded already", u,
		func(row *bagUseRow) { row.RequestKey = code(key) })
}

// SetUseOutcome stores what became of a use.
func (w writer) SetUseOutcome(u inventory.Use) error {
	return w.setOutcome("use", "bag_use", u.ID, u.Status, u.ReviewBecause, u.Decision, u.SentBy)
}
