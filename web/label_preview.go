package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// LabelPreview is the sheets as they will be printed.
type LabelPreview struct {
	Count    string
	Sheet    string
	Fit      string
	Warnings []string
	PDF      string
	W, H     float64 // of the paper, mm
	Pages    []SheetPicture
	Spots    []StartSpot // the labels of the first sheet
	Keep     *KeepOffset
	Kept     string // what is remembered and used
}

// SheetPicture is one sheet.
type SheetPicture struct{ Href, Alt string }

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

// previewOf plans labels on their sheet.
func previewOf(a labelsAsked, j labelJob) (*LabelPreview, error) {
	r, err := labels.Plan(j.sheet, j.labels, j.opt)
	if err != nil {
		return nil, err
	}
	p := &LabelPreview{Count: count(len(j.labels), "label"), Sheet: j.sheet.String(), Fit: fitText(r),
		Warnings: warnings(r, j.facts), PDF: a.href("/labels/sheet.pdf"), W: j.sheet.Paper.W, H: j.sheet.Paper.H}
	for page := range min(r.Pages, mostPictures) {
		p.Pages = append(p.Pages, SheetPicture{a.href("/labels/sheet.svg", "page", strconv.Itoa(page+1)),
			fmt.Sprintf("Sheet %d of %d", page+1, r.Pages)})
	}
	p.Spots = spots(a, j)
	switch {
	case j.printer == "":
	case j.opt.OffsetX != j.kept.X || j.opt.OffsetY != j.kept.Y:
		p.Keep = &KeepOffset{j.printer, j.sheet.Name, millimetres(j.opt.OffsetX), millimetres(j.opt.OffsetY),
			strings.TrimPrefix(a.href(""), "?")}
	case j.kept.X != 0 || j.kept.Y != 0:
		p.Kept = fmt.Sprintf("Moved as remembered for this sheet at %s: %+g mm right, %+g mm down.", j.printer, j.kept.X,
			j.kept.Y)
	}
	return p, nil
}

// spots are the labels of the first sheet.
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

// fitText says how labels come out.
func fitText(r labels.Report) string {
	return fmt.Sprintf("modules of %.2f mm, read from up to %d cm", r.ModuleMM, r.DistanceCM)
}

// fieldWords are the parts of a label, in words.
var fieldWords = map[string]string{
	"Name": "name", "KitList": "kit list", "Contents.Item": "names of items", "Code": "code", "Unit": "unit",
	"Place":  "place",
	"Serial": "serial number", "UsableThrough": "last usable day", "Seal": "seal", "EarliestDate": "earliest date",
	"LastFullCheck": "last full check",
}

// warnings gathers what is printed otherwise than given, each with the labels
// that it is about.
func warnings(r labels.Report, facts []storeroom.LabelFacts) []string {
	var texts []string
	about := map[string][]string{}
	for _, w := range r.Warnings {
		text := strings.TrimSpace(fieldWords[w.Field] + " " + w.Text)
		if !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
		about[text] = append(about[text], labelName(facts[w.Label-1]))
	}
	for i, text := range texts {
		of := about[text]
		if most := 6; len(of) > most {
			of = append(of[:most:most], fmt.Sprintf("and %d more", len(of)-most))
		}
		texts[i] = sentence(text + ": " + strings.Join(of, ", "))
	}
	return texts
}
