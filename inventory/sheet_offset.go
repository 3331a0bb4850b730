package inventory

import "math"

// MaxSheetOffset is the farthest that a print is moved on its sheet, in mm.
const MaxSheetOffset = 5

// SheetOffset is how far everything is moved when labels are printed at a station on one sheet: printers take their
// paper in at slightly different places. Each is in mm, -5 to 5, kept to a hundredth.
type SheetOffset struct {
	Station string  `json:"station"`
	Sheet   string  `json:"sheet" doc:"Name of the sheet"`
	X       float64 `json:"offset_x" minimum:"-5" maximum:"5" doc:"Moves everything right, mm"`
	Y       float64 `json:"offset_y" minimum:"-5" maximum:"5" doc:"Moves everything down, mm"`
}

// Check refuses an offset that cannot be kept. Refuses: Invalid by field.
func (o SheetOffset) Check() error {
	var p Problems
	CheckCode(&p, "station", o.Station)
	CheckText(&p, "sheet", o.Sheet, true, MaxCode)
	for path, mm := range map[string]float64{"offset_x": o.X, "offset_y": o.Y} {
		p.When(!(math.Abs(mm) <= MaxSheetOffset), path, "enter -{1} to {1} mm", MaxSheetOffset)
	}
	return p.Err()
}
