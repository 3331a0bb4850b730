package storeroom

import (
	"context"
	"math"

	"stowkeeper/inventory"
)

// KeepSheetOffset remembers an offset, in millimetres to the hundredth, for a station's printer and a sheet.
// Refuses: Forbidden without label at the station; Invalid by field.
func (s *Service) KeepSheetOffset(ctx context.Context, by inventory.Actor,
	o inventory.SheetOffset) (inventory.SheetOffset, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.SheetOffset, error) {
		o.Station = inventory.NormalCode(o.Station)
		if err := by.Must(inventory.ActLabel, o.Station); err != nil {
			return o, err
		}
		o.X, o.Y = hundredths(o.X), hundredths(o.Y)
		if err := o.Check(); err != nil {
			return o, err
		}
		if _, err := w.Station(o.Station); err != nil {
			return o, inventory.AsField(err, "station", "not found")
		}
		return o, w.SetSheetOffset(o)
	})
}

func hundredths(mm float64) float64 { return math.Round(mm*100) / 100 }

// SheetOffsets lists what is remembered for a station's printer, in millimetres, by sheet. Refuses: Forbidden
// without label at the station; Invalid for a station that does not exist.
func (s *Service) SheetOffsets(ctx context.Context, by inventory.Actor, station string) ([]inventory.SheetOffset,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.SheetOffset, error) {
		station = inventory.NormalCode(station)
		if err := by.Must(inventory.ActLabel, station); err != nil {
			return nil, err
		}
		if _, err := r.Station(station); err != nil {
			return nil, inventory.AsField(err, "station", "not found")
		}
		return r.SheetOffsets(station)
	})
}

// SheetOffset returns what is remembered for a station's printer and a sheet, in millimetres; where nothing is, or
// no station is named, the offset is none. Refuses as SheetOffsets does: Forbidden, Invalid.
func (s *Service) SheetOffset(ctx context.Context, by inventory.Actor, station, sheet string) (inventory.SheetOffset,
	error) {
	out := inventory.SheetOffset{Station: station, Sheet: sheet}
	if station == "" {
		return out, by.Must(inventory.ActLabel, "")
	}
	all, err := s.SheetOffsets(ctx, by, station)
	for _, o := range all {
		if o.Sheet == sheet {
			out = o
		}
	}
	return out, err
}
