package store

import (
	"context"
	"slices"
	"strings"

	"gorm.io/gorm"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

type batchRow struct {
	ID                     int64
	Item                   string
	Product                ref
	BatchNo, Serial        string
	Device                 bool
	MadeOn                 day
	EndPrinted, EndWording string
	LastUsable             day
	Formerly               lines[inventory.BatchFacts]
	Numbers                string
	MergedInto             ref

	InspectedOn day
	Cycles      int
	InspectBy   day
	Withdrawn   references
}

func (r reader) Batch(id int64) (inventory.Batch, error) {
	return take[inventory.Batch, batchRow](r, "batch", "id = ?", id)
}

// FindBatch returns the batch with an identity, the oldest where units without a batch number have several.
func (r reader) FindBatch(item string, product int64, batchNo, serial string) (inventory.Batch, error) {
	var w where
	w.and("item = ?", item)
	if serial != "" {
		w.and("serial = ? AND device", serial)
	} else {
		w.when(batchNo != "", "batch_no <> '' AND merged_into IS NULL") // lets the engine find it by its unique index
		w.and("coalesce(product, 0) = ? AND batch_no = ? AND NOT device", product, batchNo)
	}
	found, err := list[inventory.Batch, batchRow](r, "read batch", w, inventory.Page{Limit: 1}, byID)
	return only(found, err, "batch")
}

func (w writer) AddBatches(bs []inventory.Batch) ([]inventory.Batch, error) {
	bs = slices.Clone(bs)
	rows := mapped(bs, func(b inventory.Batch) batchRow {
		row := convert[batchRow](b)
		row.ID, row.Device, row.Numbers = 0, b.Serial != "", numbersOf(b)
		return row
	})
	return bs, w.step("add batches", "that batch or serial number of the item is known already", func() error {
		err := w.insert(rows)
		for i, row := range rows {
			bs[i].ID = row.ID
		}
		return err
	})
}

// numbersOf are all numbers that a batch ever bore, folded, for who looks for one.
func numbersOf(b inventory.Batch) string {
	out := separator
	for _, f := range b.Ever() {
		for _, s := range []string{inventory.FoldNumber(f.BatchNo), inventory.FoldNumber(f.Serial)} {
			if s != "" && !strings.Contains(out, separator+s+separator) {
				out += s + separator
			}
		}
	}
	return out
}

// foldNumbers fills in the numbers of the batches of an older program.
func foldNumbers(ctx context.Context, g *gorm.DB) error {
	var rows []batchRow
	if err := g.WithContext(ctx).Where("numbers = ''").Find(&rows).Error; err != nil {
		return err
	}
	return g.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		for _, row := range rows {
			numbers := numbersOf(convert[inventory.Batch](row))
			if err := tx.Exec("UPDATE batch SET numbers = ? WHERE id = ?", numbers, row.ID).Error; err != nil {
				return err
			}
		}
		return nil
	})
}

// numbered narrows batches to those that ever bore a number, or a part of one.
func numbered(w *where, number string, part bool) {
	if number = inventory.FoldNumber(number); number == "" {
		w.and("FALSE") // nothing but blanks and dashes is no number
		return
	}
	cond := `t.numbers LIKE ? ESCAPE '\'`
	if !part { // batches are looked through before their lots
		number, cond = separator+number+separator, "t.id IN (SELECT t.id FROM batch t WHERE "+cond+")"
	}
	w.and(cond, containing(number))
}

func (r reader) Batches(f inventory.BatchFilter) ([]inventory.Batch, error) {
	return list[inventory.Batch, batchRow](r, "list batches", ofBatches(f, "id"), inventory.Page{}, byID)
}

// ofBatches are the conditions on the batch that a column names.
func ofBatches(f inventory.BatchFilter, column string) (w where) {
	among(&w, column+" IN ?", f.IDs)
	if len(f.Numbers) == 0 {
		among(&w, column+" IN (SELECT id FROM batch WHERE item IN ?)", f.Items)
	} else {
		cond, args := numberedSo(f, column)
		w.and(cond, args...)
	}
	if len(f.EverItems) > 0 {
		ever := where{"item IN " + sqltext.Marks(len(f.EverItems)), sqltext.Args(f.EverItems)}
		for _, item := range f.EverItems {
			ever.conds += ` OR formerly <> '[]' AND replace(CAST(formerly AS text), '": "', '":"') LIKE ? ESCAPE '\'`
			ever.args = append(ever.args, containing(`"item":"`+item+`"`))
		}
		w.and(column+" IN (SELECT id FROM batch"+ever.String()+")", ever.args...)
	}
	among(&w, column+" IN (SELECT b.batch_id FROM balance b JOIN place p ON p.code = b.place WHERE p.at_station IN ?)",
		f.Stations)
	return w
}

// numberedSo is the condition on a batch that its number is one of those named, or that it is a device or numberless.
func numberedSo(f inventory.BatchFilter, column string) (cond string, args []any) {
	cond = column + " IN (WITH named (item, batch_no) AS (VALUES " + sqltext.Rows(len(f.Numbers), 2) +
		") SELECT b.id FROM named n CROSS JOIN batch b WHERE b.item = n.item AND b.batch_no = n.batch_no AND b.batch_no <> ''"
	for _, n := range f.Numbers {
		args = append(args, n[0], n[1])
	}
	if len(f.Items) > 0 {
		these := sqltext.Marks(len(f.Items))
		cond += " UNION ALL SELECT id FROM batch WHERE device AND serial > '' AND item IN " + these +
			" UNION ALL SELECT id FROM batch WHERE batch_no = '' AND serial = '' AND item IN " + these
		args = append(append(args, sqltext.Args(f.Items)...), sqltext.Args(f.Items)...)
	}
	return cond + ")", args
}

// SetBatchRecord stores what inspections, classes and notices say of a batch.
func (w writer) SetBatchRecord(id int64, r inventory.BatchRecord) error {
	return w.touch("set record of a batch", "batch",
		"UPDATE batch SET inspected_on = ?, cycles = ?, inspect_by = ?, withdrawn = ? WHERE id = ?",
		day(r.InspectedOn), r.Cycles, day(r.InspectBy), references(r.Withdrawn), id)
}
