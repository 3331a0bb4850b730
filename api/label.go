package api

import (
	"bytes"
	"context"
	"errors"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/labels"
)

// mostLabels is how many bags one request may print.
const mostLabels = 500

type sheetQuery struct {
	Bag     []string `query:"bag,explode" doc:"Bag codes: repeated, or with commas between; every bag of yours if left out"`
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
	bags, err := s.bagsToPrint(ctx, in)
	if err != nil {
		return nil, err
	}
	wanted := make([]labels.Label, 0, len(bags))
	for _, b := range bags {
		l, err := s.bagLabel(ctx, b)
		if err != nil {
			return nil, err
		}
		wanted = append(wanted, l)
	}
	var buf bytes.Buffer
	_, err = labels.WritePDF(&buf, sheet, wanted, labels.Options{Start: in.Start, OffsetX: in.OffsetX, OffsetY: in.OffsetY, Outline: in.Outline})
	return &file{Disposition: `inline; filename="labels.pdf"`, Body: buf.Bytes()}, labelError(err)
}

// bagsToPrint returns the bags that are named, in that order, or all.
func (s *server) bagsToPrint(ctx context.Context, in *sheetQuery) ([]inventory.Bag, error) {
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
	if len(named) > 0 {
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
		return labels.Bag{}, inventory.Errorf(inventory.Conflict, "labels need the address of the service: start it with its base URL")
	}
	k, err := s.svc.KitList(ctx, by(ctx), b.KitList, b.KitListVersion)
	return labels.Bag{Code: b.Code, Name: b.Name, KitList: k.Name, Edition: k.Edition, Address: labels.Address(s.opt.BaseURL, b.Code)}, err
}

type LabelQuery struct {
	ByCode
	Sheet string `query:"sheet" default:"a4-3x7" doc:"The label has the size of one on this sheet"`
}

func (s *server) labelSVG(ctx context.Context, in *LabelQuery) (*file, error) {
	return s.oneLabel(ctx, *in, func(buf *bytes.Buffer, l labels.Label, size labels.Size) error {
		_, err := labels.WriteSVG(buf, l, size)
		return err
	})
}

type pngQuery struct {
	LabelQuery
	DPI int `query:"dpi" minimum:"72" maximum:"1200" default:"300" doc:"Dots an inch"`
}

func (s *server) labelPNG(ctx context.Context, in *pngQuery) (*file, error) {
	return s.oneLabel(ctx, in.LabelQuery, func(buf *bytes.Buffer, l labels.Label, size labels.Size) error {
		_, err := labels.WritePNG(buf, l, size, in.DPI)
		return err
	})
}

func (s *server) oneLabel(ctx context.Context, in LabelQuery, draw func(*bytes.Buffer, labels.Label, labels.Size) error) (*file, error) {
	sheet, err := labels.SheetByName(in.Sheet)
	if err != nil {
		return nil, labelError(err)
	}
	b, err := s.svc.Bag(ctx, by(ctx), in.code())
	if err != nil {
		return nil, err
	}
	l, err := s.bagLabel(ctx, b)
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	err = labelError(draw(&buf, l, sheet.Label))
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
