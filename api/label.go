package api

import (
	"bytes"
	"context"
	"errors"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/labels"
)

// mostLabels is how many labels one request may print.
const mostLabels = 500

var errNoAddress = inventory.Errorf(inventory.Conflict, "labels need the address of the service: start it with its base URL")

type sheetQuery struct {
	Bag     []string `query:"bag,explode" doc:"Bag codes: repeated, or with commas between; every bag of yours if left out and no device is named"`
	Device  []string `query:"device,explode" doc:"Devices by any of their lots: repeated, or with commas between; they are printed after the bags"`
	Site    string   `query:"site" doc:"Site code, where no bag is named: the bags that are there"`
	Sheet   string   `query:"sheet" default:"a4-3x7" doc:"Name of the sheet"`
	Start   int      `query:"start" minimum:"0" default:"1" doc:"First position to print on, for a sheet used in part"`
	OffsetX float64  `query:"offset_x" minimum:"-5" maximum:"5" doc:"Moves everything right, mm"`
	OffsetY float64  `query:"offset_y" minimum:"-5" maximum:"5" doc:"Moves everything down, mm"`
	Outline bool     `query:"outline" doc:"Draws the edge of each label"`
}

func (s *server) labelSheet(ctx context.Context, in *sheetQuery) (*file, error) {
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return nil, labelError(err)
	}
	wanted, err := s.labelsToPrint(ctx, in)
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	_, err = labels.WritePDF(&buf, sheet, wanted, labels.Options{Start: in.Start, OffsetX: in.OffsetX, OffsetY: in.OffsetY, Outline: in.Outline})
	return &file{Disposition: `inline; filename="labels.pdf"`, Body: buf.Bytes()}, labelError(err)
}

// labelsToPrint makes the labels of a sheet: bags first, then devices.
func (s *server) labelsToPrint(ctx context.Context, in *sheetQuery) ([]labels.Label, error) {
	devices, err := ids("device", in.Device)
	if err != nil {
		return nil, err
	}
	bags, err := s.bagsToPrint(ctx, in, len(devices) > 0)
	if err != nil {
		return nil, err
	}
	if len(bags)+len(devices) > mostLabels {
		return nil, invalid("query", "device", "print at most 500 labels at a time")
	}
	out := make([]labels.Label, 0, len(bags)+len(devices))
	for _, b := range bags {
		l, err := s.bagLabel(ctx, b)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	for _, lot := range devices {
		l, err := s.deviceLabel(ctx, lot)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// ids reads a list of ids of the query: repeated, or with commas between.
func ids(name string, texts []string) ([]int64, error) {
	var out []int64
	for _, text := range strings.Split(strings.Join(texts, ","), ",") {
		if text = strings.TrimSpace(text); text == "" {
			continue
		}
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return nil, invalid("query", name, "give numbers, with commas between")
		}
		out = append(out, n)
	}
	return out, nil
}

// bagsToPrint returns the bags that are named, in that order, or all, unless
// only what is named is wanted.
func (s *server) bagsToPrint(ctx context.Context, in *sheetQuery, onlyNamed bool) ([]inventory.Bag, error) {
	var out []inventory.Bag
	named := codes(strings.Split(strings.Join(in.Bag, ","), ",")...)
	if len(named) > mostLabels {
		return nil, invalid("query", "bag", "print at most 500 labels at a time")
	}
	for _, code := range named {
		b, err := s.svc.Bag(ctx, by(ctx), code)
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	if len(named) > 0 || onlyNamed {
		return out, nil
	}
	all, err := s.svc.Bags(ctx, by(ctx), inventory.BagFilter{AtSites: codes(in.Site)}, inventory.Page{Limit: mostLabels + 1})
	if len(all) > mostLabels {
		return nil, invalid("query", "bag", "name the bags: there are more than 500")
	}
	return all, err
}

// bagLabel is the printed label of a bag.
func (s *server) bagLabel(ctx context.Context, b inventory.Bag) (labels.Bag, error) {
	if s.opt.BaseURL == "" {
		return labels.Bag{}, errNoAddress
	}
	k, err := s.svc.KitList(ctx, by(ctx), b.KitList, b.KitListVersion)
	return labels.Bag{Code: b.Code, Name: b.Name, KitList: k.Name, Edition: k.Edition, Address: labels.Address(s.opt.BaseURL, b.Code)}, err
}

// deviceLabel is the printed label of a device, by any of its lots.
func (s *server) deviceLabel(ctx context.Context, lot int64) (labels.Device, error) {
	if s.opt.BaseURL == "" {
		return labels.Device{}, errNoAddress
	}
	d, err := s.svc.Device(ctx, by(ctx), lot)
	l := labels.Device{Serial: d.Serial, Name: d.Name, Code: d.DeviceSummary.Item, Training: d.Training,
		Address: strings.TrimRight(s.opt.BaseURL, "/") + "/devices/" + id(d.ID)}
	if !d.Training {
		l.UsableThrough = d.UsableThrough.String()
	}
	return l, err
}

// LabelSize is the size of one label.
type LabelSize struct {
	Sheet string `query:"sheet" default:"a4-3x7" doc:"The label has the size of one on this sheet"`
}

// LabelDots is how finely a picture is drawn.
type LabelDots struct {
	DPI int `query:"dpi" minimum:"72" maximum:"1200" default:"300" doc:"Dots an inch"`
}

type bagSVG struct {
	ByCode
	LabelSize
}

func (s *server) labelSVG(ctx context.Context, in *bagSVG) (*file, error) {
	l, err := s.labelOf(ctx, in.ByCode)
	return in.draw(l, err, asSVG)
}

type bagPNG struct {
	ByCode
	LabelSize
	LabelDots
}

func (s *server) labelPNG(ctx context.Context, in *bagPNG) (*file, error) {
	l, err := s.labelOf(ctx, in.ByCode)
	return in.draw(l, err, in.asPNG)
}

func (s *server) labelOf(ctx context.Context, in ByCode) (labels.Bag, error) {
	b, err := s.svc.Bag(ctx, by(ctx), in.code())
	if err != nil {
		return labels.Bag{}, err
	}
	return s.bagLabel(ctx, b)
}

type deviceSVG struct {
	ByLot
	LabelSize
}

func (s *server) deviceLabelSVG(ctx context.Context, in *deviceSVG) (*file, error) {
	l, err := s.deviceLabel(ctx, in.Lot)
	return in.draw(l, err, asSVG)
}

type devicePNG struct {
	ByLot
	LabelSize
	LabelDots
}

func (s *server) deviceLabelPNG(ctx context.Context, in *devicePNG) (*file, error) {
	l, err := s.deviceLabel(ctx, in.Lot)
	return in.draw(l, err, in.asPNG)
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

// draw draws a label at this size, unless err says why there is none.
func (in LabelSize) draw(l labels.Label, err error, with pen) (*file, error) {
	if err != nil {
		return nil, err
	}
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return nil, labelError(err)
	}
	var buf bytes.Buffer
	err = labelError(with(&buf, l, sheet.Label))
	return &file{Body: buf.Bytes()}, err
}

// labelError tells a caller what labels says about a request: which parameter
// is wrong, or what cannot be printed so that it can be read.
func labelError(err error) error {
	var field *labels.FieldError
	var refused *labels.RefusedError
	switch {
	case errors.As(err, &field):
		return invalid("query", strings.ToLower(field.Field), field.Fix)
	case errors.As(err, &refused):
		return invalid("query", "sheet", refused.Error())
	}
	return err
}
