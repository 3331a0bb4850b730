package store

import (
	"math"

	"stowkeeper/inventory"
)

// sheetOffsetRow keeps millimetres as whole hundredths, so that what is read is what was written on every engine.
type sheetOffsetRow struct {
	Station         string `gorm:"primaryKey"`
	Sheet           string `gorm:"primaryKey"`
	RightBy, DownBy int
}

func (o sheetOffsetRow) value() inventory.SheetOffset {
	return inventory.SheetOffset{Station: o.Station, Sheet: o.Sheet, X: float64(o.RightBy) / 100,
		Y: float64(o.DownBy) / 100}
}

// SheetOffsets lists the offsets of a station by sheet.
func (r reader) SheetOffsets(station string) ([]inventory.SheetOffset, error) {
	var w where
	w.and("station = ?", station)
	rows, err := list[sheetOffsetRow, sheetOffsetRow](r, "list sheet offsets", w, inventory.Page{},
		listKey{column: "sheet"})
	return mapped(rows, sheetOffsetRow.value), err
}

// SetSheetOffset keeps an offset in the place of the one before.
func (w writer) SetSheetOffset(o inventory.SheetOffset) error {
	return w.do("set sheet offset", "", `INSERT INTO sheet_offset (station, sheet, right_by, down_by) VALUES (?, ?, ?, ?)
ON CONFLICT (station, sheet) DO UPDATE SET right_by = excluded.right_by, down_by = excluded.down_by`,
		o.Station, o.Sheet, wholeHundredths(o.X), wholeHundredths(o.Y))
}

func wholeHundredths(mm float64) int { return int(math.Round(mm * 100)) }
