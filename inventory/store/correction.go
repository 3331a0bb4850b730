package store

import "stowkeeper/inventory"

type batchCorrectionRow struct {
	ID, BatchID int64
	RecordedAt  instant `gorm:"not null"`
	By          string  `gorm:"column:by_name"`
	Reason      string
	Old         document[inventory.BatchFacts] `gorm:"column:old_value"`
	New         document[inventory.BatchFacts] `gorm:"column:new_value"`
	Merged      ref
}

// BatchCorrections lists the corrections of batches by id, the oldest first.
func (r reader) BatchCorrections(f inventory.BatchFilter) ([]inventory.BatchCorrection, error) {
	return list[inventory.BatchCorrection, batchCorrectionRow](r, "list corrections", ofBatches(f, "batch_id"),
		inventory.Page{}, byID)
}

// CorrectBatch stores what is printed on a batch anew and keeps the correction.
func (w writer) CorrectBatch(b inventory.Batch, c inventory.BatchCorrection) (inventory.BatchCorrection, error) {
	row := convert[batchCorrectionRow](c)
	row.ID, row.BatchID = 0, b.ID
	err := w.step("correct batch", "another batch or device of the item has that number", func() error {
		if err := w.mustExec("batch", "UPDATE batch SET item = ?, product = ?, batch_no = ?, serial = ?, made_on = ?, "+
			"end_printed = ?, end_wording = ?, last_usable = ?, formerly = ?, numbers = ?, merged_into = ? WHERE id = ?",
			b.Item, ref(b.Product), b.BatchNo, b.Serial, day(b.MadeOn), b.EndPrinted, string(b.EndWording), day(b.LastUsable),
			lines[inventory.BatchFacts](b.Formerly), numbersOf(b), ref(b.MergedInto), b.ID); err != nil {
			return err
		}
		return w.insert(&row)
	})
	return convert[inventory.BatchCorrection](row), err
}
