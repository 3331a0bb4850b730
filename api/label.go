package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
	"stowkeeper/labels/labelof"
)

// LabelAsk says in a query which labels are wanted.
type LabelAsk struct {
	Kind    string   `query:"kind" enum:"bag,card,shelf,device" default:"bag" doc:"card: the contents card of a bag"`
	Station string   `query:"station" doc:"Station code, where nothing is named: what is there"`
	Bag     []string `query:"bag,explode" doc:"Codes, for bag and card; default: all yours"`
	Place   string   `query:"place" doc:"For shelf: code of the store"`
	Item    []string `query:"item,explode" doc:"Codes, for shelf; default: every item there"`
	Device  []string `query:"device,explode" doc:"By lot_id, for device or after bags; default: all"`
}

// SheetAsk says how a sheet is printed.
type SheetAsk struct {
	Sheet   string            `query:"sheet" default:"a4-3x7" doc:"Name of the sheet"`
	Start   int               `query:"start" minimum:"0" default:"1" doc:"First position to print on"`
	Printer string            `query:"printer" doc:"Station whose offsets to use; default: the first label's"`
	OffsetX optional[float64] `query:"offset_x" minimum:"-5" maximum:"5" doc:"mm to the right; default: remembered"`
	OffsetY optional[float64] `query:"offset_y" minimum:"-5" maximum:"5" doc:"mm down; default: remembered"`
	Outline bool              `query:"outline" doc:"Draws the edge of each label"`
}

// LabelsQuery asks for labels on a sheet.
type LabelsQuery struct {
	LabelAsk
	SheetAsk
}

// asks returns what is wanted, kind after kind.
func (q LabelAsk) asks() ([]storeroom.LabelAsk, error) {
	devices, err := ids("device", q.Device)
	ask := storeroom.LabelAsk{Kind: storeroom.LabelKind(q.Kind), Stations: codes(q.Station), Bags: listedCodes(q.Bag),
		Place: inventory.NormalCode(q.Place), Items: listedCodes(q.Item), Devices: devices}
	if len(devices) == 0 || ask.Kind != storeroom.LabelBag {
		return []storeroom.LabelAsk{ask}, err
	}
	beside := storeroom.LabelAsk{Kind: storeroom.LabelDevice, Devices: devices}
	if len(ask.Bags) == 0 {
		return []storeroom.LabelAsk{beside}, err
	}
	ask.Devices = nil
	return []storeroom.LabelAsk{ask, beside}, err
}

// ids reads ids that are repeated or stand with commas between.
func ids(name string, values []string) ([]int64, error) {
	var out []int64
	for _, text := range listedCodes(values) {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return nil, invalid("query", name, "give numbers, with commas between")
		}
		out = append(out, n)
	}
	return out, nil
}

func listedCodes(values []string) []string {
	return codes(strings.Split(strings.Join(values, ","), ",")...)
}

type printJob struct {
	sheet  labels.Sheet
	labels []labels.Label
	opt    labels.Options
	named  string // the query's name of what is printed
}

// namedBy tells by which parameter each kind is named.
var namedBy = map[string]string{"bag": "bag", "card": "bag", "shelf": "item", "device": "device"}

func (s *server) printJob(ctx context.Context, in *LabelsQuery) (printJob, error) {
	job := printJob{named: namedBy[in.Kind]}
	asks, err := in.asks()
	if err != nil {
		return job, err
	}
	var facts []storeroom.LabelFacts
	for _, ask := range asks {
		of, err := s.labelFacts(ctx, ask)
		if err != nil {
			return job, err
		}
		facts = append(facts, of...)
	}
	for _, f := range facts {
		job.labels = append(job.labels, labelof.Facts(f, s.opt.BaseURL))
	}
	printer := inventory.NormalCode(in.Printer)
	if printer == "" && len(facts) > 0 {
		printer = facts[0].Station
	}
	job.sheet, job.opt, err = s.onSheet(ctx, in.SheetAsk, printer)
	return job, err
}

// labelFacts reads what labels say. Without the service's address they would lead nowhere.
func (s *server) labelFacts(ctx context.Context, ask storeroom.LabelAsk) ([]storeroom.LabelFacts, error) {
	if s.opt.BaseURL == "" {
		return nil, inventory.Refuse(inventory.Conflict, "labels need the address of the service: start it with its base URL")
	}
	facts, err := s.svc.Storeroom.Labels(ctx, by(ctx), ask)
	return facts, inQuery(err)
}

// inQuery tells that wrong fields stand in the query.
func inQuery(err error) error {
	var e *inventory.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return err
	}
	out := *e
	out.Fields = nil
	for _, f := range e.Fields {
		out.Fields = append(out.Fields, inventory.Field{Path: "query:" + f.Path, Fix: f.Fix})
	}
	return &out
}

// onSheet reads the sheet and how to print on it. Offsets that are left out are
// those remembered for the station that prints.
func (s *server) onSheet(ctx context.Context, in SheetAsk, printer string) (labels.Sheet, labels.Options, error) {
	opt := labels.Options{Start: in.Start, OffsetX: in.OffsetX.value, OffsetY: in.OffsetY.value, Outline: in.Outline}
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return sheet, opt, labelError(err, "")
	}
	kept, err := s.svc.Storeroom.SheetOffset(ctx, by(ctx), printer, sheet.Name)
	if !in.OffsetX.set {
		opt.OffsetX = kept.X
	}
	if !in.OffsetY.set {
		opt.OffsetY = kept.Y
	}
	return sheet, opt, inQuery(err)
}

func (s *server) printLabels(ctx context.Context, in *LabelsQuery) (*file, error) {
	job, err := s.printJob(ctx, in)
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	_, err = labels.WritePDF(&buf, job.sheet, job.labels, job.opt)
	return &file{Disposition: `inline; filename="labels.pdf"`, Body: whole(buf.Bytes())}, labelError(err, job.named)
}

type labelPageQuery struct {
	LabelsQuery
	Page int `query:"page" minimum:"1" default:"1" doc:"Which of the sheets"`
}

func (s *server) previewLabels(ctx context.Context, in *labelPageQuery) (*file, error) {
	job, err := s.printJob(ctx, &in.LabelsQuery)
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	_, err = labels.WriteSheetSVG(&buf, job.sheet, job.labels, job.opt, in.Page)
	return &file{Body: whole(buf.Bytes())}, labelError(err, job.named)
}

type calibrationQuery struct {
	SheetAsk
}

func (s *server) printCalibration(ctx context.Context, in *calibrationQuery) (*file, error) {
	sheet, opt, err := s.onSheet(ctx, in.SheetAsk, inventory.NormalCode(in.Printer))
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	err = labels.WriteCalibration(&buf, sheet, opt)
	return &file{Disposition: `inline; filename="calibration.pdf"`, Body: whole(buf.Bytes())}, labelError(err, "")
}

// LabelSize is the size of one label.
type LabelSize struct {
	Sheet string `query:"sheet" default:"a4-3x7" doc:"The label has the size of one on this sheet"`
}

// LabelDots is how finely a picture is drawn.
type LabelDots struct {
	DPI int `query:"dpi" minimum:"72" maximum:"1200" default:"300" doc:"Dots an inch"`
}

// BagLabelQuery asks for one label of a bag.
type BagLabelQuery struct {
	ByCode
	Kind string `query:"kind" enum:"bag,card" default:"bag" doc:"Its label, or its contents card"`
	LabelSize
}

func (q BagLabelQuery) ask() storeroom.LabelAsk {
	return storeroom.LabelAsk{Kind: storeroom.LabelKind(q.Kind), Bags: []string{q.code()}}
}

// bagLabelDots and deviceLabelDots ask for a picture of one.
type bagLabelDots struct {
	BagLabelQuery
	LabelDots
}

// DeviceLabelQuery asks for the label of a device, by any of its lots.
type DeviceLabelQuery struct {
	ByLot
	LabelSize
}

func (q DeviceLabelQuery) ask() storeroom.LabelAsk {
	return storeroom.LabelAsk{Kind: storeroom.LabelKind("device"), Devices: []int64{q.Lot}}
}

type deviceLabelDots struct {
	DeviceLabelQuery
	LabelDots
}

func (s *server) getBagLabelSVG(ctx context.Context, in *BagLabelQuery) (*file, error) {
	return s.oneLabel(ctx, in.ask(), in.LabelSize, asSVG)
}

func (s *server) getBagLabelPNG(ctx context.Context, in *bagLabelDots) (*file, error) {
	return s.oneLabel(ctx, in.ask(), in.LabelSize, in.asPNG)
}

func (s *server) getDeviceLabelSVG(ctx context.Context, in *DeviceLabelQuery) (*file, error) {
	return s.oneLabel(ctx, in.ask(), in.LabelSize, asSVG)
}

func (s *server) getDeviceLabelPNG(ctx context.Context, in *deviceLabelDots) (*file, error) {
	return s.oneLabel(ctx, in.ask(), in.LabelSize, in.asPNG)
}

// pen draws a label into a buffer.
type pen func(buf *bytes.Buffer, l labels.Label, size labels.Size) error

func asSVG(buf *bytes.Buffer, l labels.Label, size labels.Size) error {
	_, err := labels.WriteSVG(buf, l, size)
	return err
}

func (d LabelDots) asPNG(buf *bytes.Buffer, l labels.Label, size labels.Size) error {
	_, err := labels.WritePNG(buf, l, size, d.DPI)
	return err
}

func (s *server) oneLabel(ctx context.Context, ask storeroom.LabelAsk, in LabelSize, draw pen) (*file, error) {
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return nil, labelError(err, "")
	}
	facts, err := s.labelFacts(ctx, ask)
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	err = labelError(draw(&buf, labelof.Facts(facts[0], s.opt.BaseURL), sheet.Label), "sheet")
	return &file{Body: whole(buf.Bytes())}, err
}

// labelError tells a caller what labels says about a request: which parameter is wrong, or what cannot be printed so
// that it can be read. of is the parameter that names what is printed.
func labelError(err error, of string) error {
	var field *labels.FieldError
	var refused *labels.RefusedError
	switch {
	case errors.As(err, &field) && field.Label > 0:
		return invalid("query", of, fmt.Sprintf("label %d: %s", field.Label, field.Fix))
	case errors.As(err, &field):
		return invalid("query", strings.ToLower(field.Field), field.Fix.String())
	case errors.As(err, &refused):
		return invalid("query", "sheet", refused.Error())
	}
	return err
}
