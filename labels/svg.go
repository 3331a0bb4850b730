package labels

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"strings"

	"stowkeeper/inventory/message"
)

// WriteSVG draws one label of the given size. Text is drawn as outlines, so that it looks the same without the font;
// the words stand in the title. Errors are those of [Plan].
func WriteSVG(w io.Writer, l Label, size Size) (Report, error) {
	d, report, err := single(l, size)
	if err != nil {
		return Report{}, err
	}
	s := newSVG(size, l.Kind()+": "+spoken(d))
	m := margin(size)
	if err := s.draw(d, m, m); err != nil {
		return Report{}, err
	}
	return report, s.close(w)
}

// WriteSheetSVG draws one page, from 1, of what [WritePDF] would print, for a
// preview on the screen. Only the labels on that page are encoded.
func WriteSheetSVG(w io.Writer, s Sheet, labels []Label, opt Options, page int) (Report, error) {
	drawings, report, err := plan(s, labels, opt)
	if err != nil {
		return Report{}, err
	}
	if page < 1 || page > report.Pages {
		return Report{}, &FieldError{Field: "page", Fix: message.M("enter {1} to {2}", 1, report.Pages)}
	}
	out := newSVG(s.Paper, fmt.Sprintf("%s, page %d of %d", s.Name, page, report.Pages))
	for at := range s.PerPage() {
		if opt.Outline {
			x, y := s.Position(at)
			out.outline(x+opt.OffsetX, y+opt.OffsetY, s.Label)
		}
		i := (page-1)*s.PerPage() + at - opt.first()
		if i < 0 || i >= len(drawings) {
			continue
		}
		x, y := s.contentAt(at)
		if err := out.draw(drawings[i], x+opt.OffsetX, y+opt.OffsetY); err != nil {
			return Report{}, err
		}
	}
	return report, out.close(w)
}

// single fits one label on its own.
func single(l Label, size Size) (drawing, Report, error) {
	if !(size.W > 0 && size.W <= 1000 && size.H > 0 && size.H <= 1000) {
		return drawing{}, Report{}, &FieldError{Field: "size", Fix: message.M("enter {1} to {2}", 1, 1000)}
	}
	s := Sheet{Paper: size, Label: size, Columns: 1, Rows: 1}
	m := margin(size)
	c, err := compose(l, Size{size.W - 2*m, size.H - 2*m})
	if err != nil {
		err = refusal(err, 0, l, s)
		return drawing{}, Report{}, err
	}
	report := Report{Sheet: s, Pages: 1}
	report.add(1, c)
	return c.drawing, report, nil
}

// spoken is what a drawing says, for people who do not see it.
func spoken(d drawing) string {
	lines := make([]string, len(d.texts))
	for i, t := range d.texts {
		lines[i] = t.s
	}
	return strings.Join(lines, ", ")
}

// svg collects one picture.
type svg struct{ bytes.Buffer }

func newSVG(size Size, title string) *svg {
	s := &svg{}
	fmt.Fprintf(s, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g" role="img">`,
		size.W, size.H, size.W, size.H)
	fmt.Fprintf(s, "\n<title>%s</title>\n<rect width=\"%g\" height=\"%g\" fill=\"#fff\"/>\n", html.EscapeString(title),
		size.W, size.H)
	return s
}

func (s *svg) close(w io.Writer) error {
	fmt.Fprintln(s, "</svg>")
	_, err := s.WriteTo(w)
	return err
}

func (s *svg) draw(d drawing, x, y float64) error {
	for _, shape := range d.shapes {
		s.polygon(shape, x, y)
	}
	for _, t := range d.texts {
		if err := s.text(t, x, y); err != nil {
			return err
		}
	}
	return s.symbol(d.symbol, x, y)
}

func (s *svg) polygon(f shape, x, y float64) {
	fmt.Fprintf(s, "<path%s d=\"", fill(f.white))
	for i, p := range f.points {
		op := 'L'
		if i == 0 {
			op = 'M'
		}
		fmt.Fprintf(s, "%c%.3f %.3f", op, x+p.x, y+p.y)
	}
	fmt.Fprintln(s, `Z"/>`)
}

func (s *svg) text(t text, x, y float64) error {
	var p svgPen
	if err := t.face.outlines(t.s, &p); err != nil {
		return err
	}
	scale := t.size / float64(fonts()[t.face].upem)
	fmt.Fprintf(s, "<path%s transform=\"translate(%.3f %.3f) scale(%.7f)\" d=\"%s\"/>\n", fill(t.white), x+t.x, y+t.y,
		scale, p.data)
	return nil
}

// fill is the attribute for white; black is what paths are filled with anyway.
func fill(white bool) string {
	if white {
		return ` fill="#fff"`
	}
	return ""
}

func (s *svg) symbol(q symbol, x, y float64) error {
	if q.text == "" {
		return nil
	}
	modules, err := encode(q.text, q.Fit)
	if err != nil {
		return err
	}
	fmt.Fprintf(s, "<path shape-rendering=\"crispEdges\" transform=\"translate(%.4f %.4f) scale(%.5f)\" d=\"", x+q.x,
		y+q.y, q.ModuleMM)
	for _, r := range runs(modules) {
		fmt.Fprintf(s, "M%d %dh%dv1h-%dz", r.x, r.y, r.n, r.n)
	}
	fmt.Fprintln(s, `"/>`)
	return nil
}

func (s *svg) outline(x, y float64, label Size) {
	fmt.Fprintf(s, "<rect x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\" fill=\"none\" stroke=\"#a0a0a0\" "+
		"stroke-width=\"0.1\"/>\n",
		x, y, label.W, label.H)
}

// Path draws the symbol of text for a square of side mm, quiet zone included, as an SVG path of one unit a module, with
// how many there are on a side. Errors are those of [Plan].
func Path(text string, side float64) (path string, modules int, err error) {
	f, err := choose(text, side)
	if err != nil {
		return "", 0, err
	}
	rows, err := encode(text, f)
	var b strings.Builder
	for _, r := range runs(rows) {
		fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", r.x+quietZone, r.y+quietZone, r.n, r.n)
	}
	return b.String(), f.Modules + 2*quietZone, err
}
