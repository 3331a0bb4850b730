package store

import "stowkeeper/inventory"

type sealRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Bag        string
	HappenedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Event      string
	Number     string
	Expected   string
	Source     string
	Note       string
}

func (sealRow) TableName() string { return "seal" }

// Seals lists the log of seals, newest first.
func (r reader) Seals(f inventory.RecordFilter, p inventory.Page) ([]inventory.SealEntry, error) {
	return list(records(r.gorm(), f, "happened_at"), "list seals", p, newestID, convert[inventory.SealEntry, sealRow])
}

// AddSeal adds to a bag's log of seals. A seal that was seen in order changes
// nothing, so the position stays.
func (w writer) AddSeal(e inventory.SealEntry) error {
	row := convert[sealRow](e)
	row.ID = 0
	return w.step("add seal", "", func() error {
		if err := w.lockBags([]string{e.Bag}); err != nil {
			return err
		}
		if err := w.gorm().Create(&row).Error; err != nil || e.Event == inventory.SealSeen {
			return err
		}
		return w.moveOn(e.Bag, []bagEventRow{{Kind: eventSeal, SealID: ref(row.ID)}})
	})
}
