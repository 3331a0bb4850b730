package store

import "stowkeeper/inventory"

type sealRow struct {
	ID                                    int64
	Bag                                   string
	HappenedAt                            instant `gorm:"not null"`
	By                                    string  `gorm:"column:by_name"`
	Event, Number, Expected, Source, Note string
}

func (r reader) Seals(f inventory.RecordFilter, p inventory.Page) ([]inventory.SealEntry, error) {
	w := records(f, "happened_at")
	given(&w, sameNumber("number"), inventory.FoldNumber(f.Number))
	return list[inventory.SealEntry, sealRow](r, "list seals", w, p, newestID)
}

// AddSeal adds to a bag's log of seals. A seal that was seen in order changes nothing, so the position stays.
func (w writer) AddSeal(e inventory.SealEntry) error {
	row := convert[sealRow](e)
	row.ID = 0
	whole := w.step
	if e.Event == inventory.SealSeen {
		whole = w.single
	}
	return whole("add seal", "", func() error {
		if err := w.lockBags([]string{e.Bag}); err != nil {
			return err
		}
		if err := w.insert(&row); err != nil || e.Event == inventory.SealSeen {
			return err
		}
		return w.moveOn(e.Bag, []bagEventRow{{Kind: eventSeal, SealID: ref(row.ID)}})
	})
}
