package web

import (
	"fmt"
	"strconv"
	"strings"

	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// LabelPreview is the sheets as they will be printed.
type LabelPreview struct {
	Count, Sheet, Fit message.Message
	Warnings          []message.Message
	PDF               string
	W, H              float64 // of the paper, mm
	Pages             []SheetPicture
	Spots             []StartSpot // the labels of the first sheet
	Keep              *KeepOffset
	Kept              message.Message // what is remembered and used
}

// SheetPicture is one sheet.
type SheetPicture struct {
	Href string
	Alt  message.Message
}

// StartSpot is a label of the first sheet, to begin with.
type StartSpot struct {
	Href       string
	N          int
	X, Y, W, H float64 // mm on the paper
	MidX, MidY float64
	Blank      bool // nothing is printed there
}

// KeepOffset is a form that remembers the offsets of this print.
type KeepOffset struct{ Station, Sheet, X, Y, Back string }

// mostPictures is how many sheets are shown.
const mostPictures = 8

func previewOf(a labelsAsked, j labelJob) (*LabelPreview, error) {
	r, err := labels.Plan(j.sheet, j.labels, j.opt)
	if err != nil {
		return nil, err
	}
	p := &LabelPreview{Count: message.M("{1} {1|label|labels}", len(j.labels)), Sheet: j.sheet.Text(), Fit: fitText(r),
		Warnings: warnings(r, j.facts), PDF: a.href("/labels/sheet.pdf"), W: j.sheet.Paper.W, H: j.sheet.Paper.H}
	for page := range min(r.Pages, mostPictures) {
		p.Pages = append(p.Pages, SheetPicture{a.href("/labels/sheet.svg", "page", strconv.Itoa(page+1)),
			message.M("Sheet {1} of {2}", page+1, r.Pages)})
	}
	p.Spots = spots(a, j)
	switch {
	case j.printer == "":
	case j.opt.OffsetX != j.kept.X || j.opt.OffsetY != j.kept.Y:
		p.Keep = &KeepOffset{j.printer, j.sheet.Name, millimetres(j.opt.OffsetX), millimetres(j.opt.OffsetY),
			strings.TrimPrefix(a.href(""), "?")}
	case j.kept.X != 0 || j.kept.Y != 0:
		p.Kept = message.M("Saved offset of {1}: {2} mm right, {3} mm down", j.printer, fmt.Sprintf("%+g", j.kept.X),
			fmt.Sprintf("%+g", j.kept.Y))
	}
	return p, nil
}

func spots(a labelsAsked, j labelJob) []StartSpot {
	var out []StartSpot
	for i := range j.sheet.PerPage() {
		x, y := j.sheet.Position(i)
		x, y = x+j.opt.OffsetX, y+j.opt.OffsetY
		first := max(j.opt.Start, 1) - 1
		out = append(out, StartSpot{Href: a.href("/labels", "start", strconv.Itoa(i+1)), N: i + 1, X: x, Y: y,
			W: j.sheet.Label.W, H: j.sheet.Label.H,
			MidX: x + j.sheet.Label.W/2, MidY: y + j.sheet.Label.H/2, Blank: i < first || i >= first+len(j.labels)})
	}
	return out
}

func fitText(r labels.Report) message.Message {
	return message.M("code squares {1} mm, readable up to {2} cm away", fmt.Sprintf("%.2f", r.ModuleMM), r.DistanceCM)
}

var fieldWords = map[string]message.Message{
	"Name": message.M("Name"), "KitList": message.M("Kit list"), "Contents.Item": message.M("Items"),
	"Code": message.M("Code"), "Unit": message.M("Unit"), "Place": message.M("Place"),
	"Serial": message.M("Serial number"), "UsableThrough": message.M("Use by"), "Seal": message.M("Seal"),
	"EarliestDate": message.M("Use by"), "LastFullCheck": message.M("Last full check"),
}

// warnings gathers what is printed otherwise than given, each with the labels that it is about.
func warnings(r labels.Report, facts []storeroom.LabelFacts) []message.Message {
	type text struct {
		field, what string
	}
	var order []text
	said := map[text]message.Message{}
	about := map[text][]string{}
	for _, w := range r.Warnings {
		x := text{w.Field, w.Text.String()}
		if about[x] == nil {
			order, said[x] = append(order, x), w.Text
		}
		about[x] = append(about[x], labelName(facts[w.Label-1]))
	}
	texts := make([]message.Message, len(order))
	for i, x := range order {
		of, more := about[x], message.Message(nil)
		if most := 6; len(of) > most {
			more = message.M("{1} more", len(of)-most)
			of = of[:most]
		}
		texts[i] = message.M("{1}: {2}", message.Join(" ", fieldWords[x.field], said[x]),
			message.Join(", ", message.Plain(strings.Join(of, ", ")), more))
	}
	return texts
}
