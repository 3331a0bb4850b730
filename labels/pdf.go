package labels

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// WritePDF prints labels on as many sheets as they need. The PDF holds no bitmap, and is the same bytes for the same
// arguments. Errors are those of [Plan], before anything is written, or the writer's.
func WritePDF(w io.Writer, s Sheet, labels []Label, opt Options) (Report, error) {
	drawings, report, err := plan(s, labels, opt)
	if err != nil {
		return Report{}, err
	}
	p := newPDF(s.Paper, "Labels")
	for i, d := range drawings {
		at := (opt.first() + i) % s.PerPage()
		if i == 0 || at == 0 {
			p.doc.AddPage()
		}
		if opt.Outline {
			x, y := s.Position(at)
			p.outline(x+opt.OffsetX, y+opt.OffsetY, s.Label)
		}
		x, y := s.contentAt(at)
		if err := p.draw(d, x+opt.OffsetX, y+opt.OffsetY); err != nil {
			return Report{}, err
		}
	}
	return report, p.doc.Output(w)
}

// families are the fonts' names in the PDF, by face.
var families = [...]string{regular: "go", bold: "gobold"}

// pdf writes drawings to a document.
type pdf struct {
	doc    *fpdf.Fpdf
	height float64 // of the page, mm
	buf    []byte
}

// fixedDate stands in the PDF instead of the clock, so that the same labels are the same bytes.
var fixedDate = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

func newPDF(paper Size, title string) *pdf {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.W, Ht: paper.H}})
	doc.SetCreationDate(fixedDate)
	doc.SetModificationDate(fixedDate)
	doc.SetCatalogSort(true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.SetTitle(title, true)
	// Viewers shrink pages to the printer's margins unless told not to. The
	// library has no call for it, so the entry follows the language's.
	doc.SetLang("en) /ViewerPreferences << /PrintScaling /None >> /Stowkeeper (labels")
	for f, data := range ttf {
		doc.AddUTF8FontFromBytes(families[f], "", bytes.Clone(data))
	}
	return &pdf{doc: doc, height: paper.H}
}

// draw prints d with its corner at x, y.
func (p *pdf) draw(d drawing, x, y float64) error {
	for _, shape := range d.shapes {
		p.polygon(shape, x, y)
	}
	for _, t := range d.texts {
		p.text(t, x, y)
	}
	return p.symbol(d.symbol, x, y)
}

// symbol fills the dark modules as one path, in units of modules: rectangles of
// one path are filled together, so that no renderer shows seams between them.
func (p *pdf) symbol(s symbol, x, y float64) error {
	if s.text == "" {
		return nil
	}
	modules, err := encode(s.text, s.Fit)
	if err != nil {
		return err
	}
	const k = 72 / inch
	p.buf = fmt.Appendf(p.buf[:0], "q 0 g %.5f 0 0 %.5f %.4f %.4f cm\n",
		s.ModuleMM*k, -s.ModuleMM*k, (x+s.x)*k, (p.height-y-s.y)*k)
	for _, r := range runs(modules) {
		p.buf = strconv.AppendInt(p.buf, int64(r.x), 10)
		p.buf = append(p.buf, ' ')
		p.buf = strconv.AppendInt(p.buf, int64(r.y), 10)
		p.buf = append(p.buf, ' ')
		p.buf = strconv.AppendInt(p.buf, int64(r.n), 10)
		p.buf = append(p.buf, " 1 re\n"...)
	}
	p.buf = append(p.buf, "f Q"...)
	p.doc.RawWriteBuf(bytes.NewReader(p.buf))
	return nil
}

func (p *pdf) text(t text, x, y float64) {
	p.doc.SetFont(families[t.face], "", t.size/pt)
	grey := shade(t.white)
	p.doc.SetTextColor(grey, grey, grey)
	p.doc.Text(x+t.x, y+t.y, t.s)
}

func shade(white bool) int {
	if white {
		return 255
	}
	return 0
}

func (p *pdf) polygon(s shape, x, y float64) {
	grey := shade(s.white)
	p.doc.SetFillColor(grey, grey, grey)
	points := make([]fpdf.PointType, len(s.points))
	for i, pt := range s.points {
		points[i] = fpdf.PointType{X: x + pt.x, Y: y + pt.y}
	}
	p.doc.Polygon(points, "F")
}

// outline draws the edge of a label as a hairline.
func (p *pdf) outline(x, y float64, label Size) {
	p.doc.SetDrawColor(160, 160, 160)
	p.doc.SetLineWidth(0.1)
	p.doc.Rect(x, y, label.W, label.H, "D")
}
