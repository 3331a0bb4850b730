package inventory

import (
	"context"
	"math"
)

// MaxSheetOffset is the farthest that a print is moved on its sheet, in mm.
const MaxSheetOffset = 5

// SheetOffset is how far everything is moved when labels are printed at a
// station on one sheet: printers take their paper in at slightly different
// places. Each is in mm, -5 to 5, kept to a hundredth.
type SheetOffset struct {
	Site  string  `json:"site"`
	Sheet string  `json:"sheet" doc:"Name of the sheet"`
	X     float64 `json:"offset_x" minimum:"-5" maximum:"5" doc:"Moves everything right, mm"`
	Y     float64 `json:"offset_y" minimum:"-5" maximum:"5" doc:"Moves everything down, mm"`
}

// Check refuses an offset that cannot be kept.
func (o SheetOffset) Check() error {
	var p problems
	checkCode(&p, "site", o.Site)
	checkText(&p, "sheet", o.Sheet, true, MaxCode)
	for path, mm := range map[string]float64{"offset_x": o.X, "offset_y": o.Y} {
		p.when(!(math.Abs(mm) <= MaxSheetOffset), path, "give -%d to %d mm", MaxSheetOffset, MaxSheetOffset)
	}
	return p.err()
}

// KeepSheetOffset remembers an offset for a station's printer and a sheet.
func (s *Service) KeepSheetOffset(ctx context.Context, by Actor, o SheetOffset) (SheetOffset, error) {
	return write(ctx, s, func(w Writer) (SheetOffset, error) {
		o.Site = NormalCode(o.Site)
		if err := by.must(ActLabel, o.Site); err != nil {
			return o, err
		}
		o.X, o.Y = hundredths(o.X), hundredths(o.Y)
		if err := o.Check(); err != nil {
			return o, err
		}
		if _, err := w.Site(o.Site); err != nil {
			return o, known(err, "site", "site")
		}
		return o, w.SetSheetOffset(o)
	})
}

func hundredths(mm float64) float64 { return math.Round(mm*100) / 100 }

// SheetOffsets lists what is remembered for a station's printer.
func (s *Service) SheetOffsets(ctx context.Context, by Actor, site string) ([]SheetOffset, error) {
	return read(ctx, s, func(r Reader) ([]SheetOffset, error) {
		site = NormalCode(site)
		if err := by.must(ActLabel, site); err != nil {
			return nil, err
		}
		if _, err := r.Site(site); err != nil {
			return nil, known(err, "site", "site")
		}
		return r.SheetOffsets(site)
	})
}

// SheetOffset returns what is remembered for a station's printer and a sheet;
// where nothing is, or no station is named, the offset is none.
func (s *Service) SheetOffset(ctx context.Context, by Actor, site, sheet string) (SheetOffset, error) {
	out := SheetOffset{Site: site, Sheet: sheet}
	if site == "" {
		return out, by.must(ActLabel, "")
	}
	all, err := s.SheetOffsets(ctx, by, site)
	for _, o := range all {
		if o.Sheet == sheet {
			out = o
		}
	}
	return out, err
}
