package api

import (
	"context"
	"math"

	"stowkeeper/inventory"
	"stowkeeper/labels"
)

// LabelPlan tells how labels come out on a sheet.
type LabelPlan struct {
	Kind       string         `json:"kind"`
	Sheet      string         `json:"sheet"`
	Labels     int            `json:"labels" doc:"How many"`
	Pages      int            `json:"pages"`
	OffsetX    float64        `json:"offset_x" doc:"Moves everything right, mm"`
	OffsetY    float64        `json:"offset_y" doc:"Moves everything down, mm"`
	ModuleMM   float64        `json:"module_mm" doc:"Side of the smallest module among the symbols, mm"`
	DistanceCM int            `json:"distance_cm" doc:"Reading distance of every symbol, cm, at ten to one"`
	Warnings   []LabelWarning `json:"warnings" doc:"What is printed differently"`
}

// LabelWarning is something that is printed otherwise than given.
type LabelWarning struct {
	Label int    `json:"label" doc:"Position among the labels, from 1"`
	Field string `json:"field"`
	Text  string `json:"text"`
}

func (s *server) planLabels(ctx context.Context, in *LabelsQuery) (*plain[LabelPlan], error) {
	job, err := s.printJob(ctx, in)
	if err != nil {
		return nil, err
	}
	r, err := labels.Plan(job.sheet, job.labels, job.opt)
	if err != nil {
		return nil, labelError(err, job.named)
	}
	p := LabelPlan{Kind: in.Kind, Sheet: job.sheet.Name, Labels: len(job.labels), Pages: r.Pages, OffsetX: job.opt.OffsetX,
		OffsetY: job.opt.OffsetY, ModuleMM: hundredths(r.ModuleMM), DistanceCM: r.DistanceCM, Warnings: []LabelWarning{}}
	for _, w := range r.Warnings {
		p.Warnings = append(p.Warnings, LabelWarning{w.Label, w.Field, w.Text.String()})
	}
	return answer(p, nil)
}

func hundredths(mm float64) float64 { return math.Round(mm*100) / 100 }

// LabelSheet is a sheet of labels by its geometry, with the offsets that a station's printer needs on it.
type LabelSheet struct {
	Name     string  `json:"name" doc:"Paper, columns and rows"`
	Text     string  `json:"text" doc:"The same in words"`
	Columns  int     `json:"columns"`
	Rows     int     `json:"rows"`
	WidthMM  float64 `json:"label_width_mm"`
	HeightMM float64 `json:"label_height_mm"`
	OffsetX  float64 `json:"offset_x" doc:"Remembered for the station, mm"`
	OffsetY  float64 `json:"offset_y" doc:"Remembered for the station, mm"`
}

type sheetsQuery struct {
	Paging
	Station string `query:"station" doc:"Station code of the station whose remembered offsets are shown"`
}

func (s *server) listLabelSheets(ctx context.Context, in *sheetsQuery) (*listed[LabelSheet], error) {
	offsets := map[string]inventory.SheetOffset{}
	if in.Station != "" {
		kept, err := s.svc.Storeroom.SheetOffsets(ctx, by(ctx), in.Station)
		if err != nil {
			return nil, inQuery(err)
		}
		for _, o := range kept {
			offsets[o.Sheet] = o
		}
	}
	var all []LabelSheet
	for _, sh := range labels.Sheets() {
		o := offsets[sh.Name]
		all = append(all, LabelSheet{sh.Name, sh.String(), sh.Columns, sh.Rows, hundredths(sh.Label.W),
			hundredths(sh.Label.H), o.X, o.Y})
	}
	return listWhole(in.Paging, func(s LabelSheet) string { return s.Name })(all, nil)
}

type offsetPut struct {
	Sheet string `path:"sheet" maxLength:"40"`
	Body  SheetOffsetFields
}

// SheetOffsetFields are what is remembered of a sheet.
type SheetOffsetFields struct {
	Station string  `json:"station" doc:"Station code of the station that prints"`
	X       float64 `json:"offset_x" minimum:"-5" maximum:"5" doc:"Moves everything right, mm, kept to a hundredth"`
	Y       float64 `json:"offset_y" minimum:"-5" maximum:"5" doc:"Moves everything down, mm, kept to a hundredth"`
}

func (s *server) keepSheetOffset(ctx context.Context, in *offsetPut) (*plain[inventory.SheetOffset], error) {
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return nil, inventory.Refuse(inventory.NotFound, "not found")
	}
	return answer(s.svc.Storeroom.KeepSheetOffset(ctx, by(ctx), inventory.SheetOffset{Station: in.Body.Station,
		Sheet: sheet.Name, X: in.Body.X, Y: in.Body.Y}))
}
