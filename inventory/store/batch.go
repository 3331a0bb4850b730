package store

import (
	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type batchRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Item       string
	Product    ref
	BatchNo    string
	Serial     string
	Device     bool
	MadeOn     day
	EndPrinted string
	EndWording string
	LastUsable day

	InspectedOn day
	Cycles      int
	InspectBy   day
	Withdrawn   references
}

func (batchRow) TableName() string { return "batch" }

func (r reader) batch(cond func(*gorm.DB) *gorm.DB) (batchRow, error) {
	var row batchRow
	err := cond(r.gorm()).Order("id").Take(&row).Error
	return row, missing("read batch", "batch", err)
}

// Batch returns one batch.
func (r reader) Batch(id int64) (inventory.Batch, error) {
	row, err := r.batch(func(q *gorm.DB) *gorm.DB { return q.Where("id = ?", id) })
	return convert[inventory.Batch](row), err
}

// FindBatch returns the batch with an identity, the oldest where units
// without a batch number have several.
func (r reader) FindBatch(item string, product int64, batchNo, serial string) (inventory.Batch, error) {
	row, err := r.batch(func(q *gorm.DB) *gorm.DB {
		if serial != "" {
			return q.Where("item = ? AND serial = ? AND device", item, serial)
		}
		if batchNo != "" {
			q = q.Where("batch_no <> ''") // lets the engine find it by its unique index
		}
		return q.Where("item = ? AND coalesce(product, 0) = ? AND batch_no = ? AND NOT device", item, product, batchNo)
	})
	return convert[inventory.Batch](row), err
}

// AddBatch adds a batch and gives it its id.
func (w writer) AddBatch(b inventory.Batch) (inventory.Batch, error) {
	b.ID, b.BatchRecord = 0, inventory.BatchRecord{}
	row := convert[batchRow](b)
	row.Device = b.Serial != ""
	err := w.add("add batch", "that batch or serial number of the item is known already", &row)
	return convert[inventory.Batch](row), err
}

// Batches lists batches by id.
func (r reader) Batches(f inventory.BatchFilter) ([]inventory.Batch, error) {
	return gather(ofBatches(r.gorm(), f, "id").Order("id"), "list batches", convert[inventory.Batch, batchRow])
}

// ofBatches narrows a query by the batch that a column names.
func ofBatches(q *gorm.DB, f inventory.BatchFilter, column string) *gorm.DB {
	if len(f.IDs) > 0 {
		q = q.Where(column+" IN ?", f.IDs)
	}
	if len(f.Items) > 0 {
		q = q.Where(column+" IN (SELECT id FROM batch WHERE item IN ?)", f.Items)
	}
	if len(f.Stations) > 0 {
		q = q.Where(column+" IN (SELECT b.batch_id FROM balance b JOIN place p ON p.code = b.place WHERE p.at_station IN ?)",
			f.Stations)
	}
	return q
}

// SetBatchRecord stores what inspections, classes and notices say of a batch.
func (w writer) SetBatchRecord(id int64, r inventory.BatchRecord) error {
	return w.set("set record of a batch", "batch",
		"UPDATE batch SET inspected_on = ?, cycles = ?, inspect_by = ?, withdrawn = ? WHERE id = ?",
		day(r.InspectedOn), r.Cycles, day(r.InspectBy), references(r.Withdrawn), id)
}
