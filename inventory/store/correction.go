package store

import "stowkeeper/inventory"

type correctionRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	BatchID    int64
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Reason     string
	OldValue   document[inventory.BatchFacts]
	NewValue   document[inventory.BatchFacts]
}

func (correctionRow) TableName() string { return "batch_correction" }

func (c correctionRow) value() inventory.BatchCorrection {
	out := convert[inventory.BatchCorrection](c)
	if c.OldValue.of != nil && c.NewValue.of != nil {
		out.Old, out.New = *c.OldValue.of, *c.NewValue.of
	}
	return out
}

// BatchCorrections lists the corrections of batches by id, the oldest first.
func (r reader) BatchCorrections(f inventory.BatchFilter) ([]inventory.BatchCorrection, error) {
	return gather(ofBatches(r.gorm(), f, "batch_id").Order("id"), "list corrections", correctionRow.value)
}

// CorrectBatch stores what is printed on a batch anew and keeps the correction.
func (w writer) CorrectBatch(b inventory.Batch, c inventory.BatchCorrection) (inventory.BatchCorrection, error) {
	row := convert[correctionRow](c)
	row.ID, row.BatchID = 0, b.ID
	row.OldValue, row.NewValue = document[inventory.BatchFacts]{&c.Old}, document[inventory.BatchFacts]{&c.New}
	err := w.step("correct batch", "another batch or device of the item has that number", func() error {
		n, err := w.exec("UPDATE batch SET batch_no = ?, serial = ?, made_on = ?, end_printed = ?, end_wording = ?, "+
			"last_usable = ? WHERE id = ?",
			b.BatchNo, b.Serial, day(b.MadeOn), b.EndPrinted, string(b.EndWording), day(b.LastUsable), b.ID)
		if err == nil && n == 0 {
			return notFound("batch")
		}
		if err != nil {
			return err
		}
		return w.gorm().Create(&row).Error
	})
	return row.value(), err
}
