package labels

import (
	"fmt"
	"io"
	"strconv"
)

// WriteCalibration prints a page for plain paper that shows where the sheet's labels would be, at the offsets of opt,
// with a ruler of 50 mm each way: one holds it against a sheet of labels and reads off the offsets to set. The start
// position does not matter. It fails with a *FieldError when an offset is wrong.
func WriteCalibration(w io.Writer, s Sheet, opt Options) error {
	opt.Start = 0
	if err := opt.check(s); err != nil {
		return err
	}
	c := &composer{box: s.Paper}
	const width, height = 128, 76
	panel := rect{(s.Paper.W - width) / 2, (s.Paper.H - height) / 2, width, height}
	for i := range s.PerPage() {
		x, y := s.Position(i)
		c.target(rect{x + opt.OffsetX, y + opt.OffsetY, s.Label.W, s.Label.H}, i+1, panel)
	}
	c.instructions(s, opt, panel)
	if c.err != nil {
		return c.err
	}
	p := newPDF(s.Paper, "Calibration page")
	p.doc.AddPage()
	if err := p.draw(c.drawing, 0, 0); err != nil {
		return err
	}
	return p.doc.Output(w)
}

// hair is the thickness of the lines on the calibration page, mm.
const hair = 0.2

// target is the edge of a label, its number and a cross in its middle, which shows even where the edge lies in the
// rim that the printer leaves blank. The number is left out under the panel.
func (c *composer) target(r rect, number int, panel rect) {
	c.frame(r)
	c.hline(r.x+r.w/2-4, r.y+r.h/2, 8)
	c.vline(r.x+r.w/2, r.y+r.h/2-4, 8)
	inset := max(2, rim-r.x, rim-r.y)
	at := text{x: r.x + inset, y: r.y + inset + 3, size: 10 * pt, face: bold, s: strconv.Itoa(number)}
	if (at.x+6 < panel.x || at.x > panel.x+panel.w) || (at.y < panel.y || at.y-4 > panel.y+panel.h) {
		c.write(at)
	}
}

// frame draws the edge of r.
func (c *composer) frame(r rect) {
	c.hline(r.x, r.y, r.w)
	c.hline(r.x, r.y+r.h, r.w)
	c.vline(r.x, r.y, r.h)
	c.vline(r.x+r.w, r.y, r.h)
}

// hline and vline are lines with the given points in their middle.
func (c *composer) hline(x, y, length float64) { c.fill(rect{x, y - hair/2, length, hair}) }
func (c *composer) vline(x, y, length float64) { c.fill(rect{x - hair/2, y, hair, length}) }

// instructions is a panel in the middle of the page with the rulers.
func (c *composer) instructions(s Sheet, opt Options, panel rect) {
	clear := panel.shape()
	clear.white = true
	c.drawing.shapes = append(c.drawing.shapes, clear)
	c.frame(panel)
	c.ruler(panel.x+8, panel.y+8, false)
	c.ruler(panel.x+24, panel.y+panel.h-14, true)
	c.stack([]block{
		{text: "Calibration page, sheet " + s.Name, face: bold, size: 13 * pt, least: smallest, lines: 1},
		{text: s.String(), size: 10 * pt, least: smallest, lines: 2},
		{text: "1. Print on plain paper at 100 %, not fitted to the page.", size: 10 * pt, least: smallest, lines: 3, gap: 2},
		{text: "2. Measure both rulers: 50 mm. If not, the printer still scales.", size: 10 * pt, least: smallest, lines: 3,
			gap: 1},
		{text: "3. Hold the page against a sheet of labels, to the light. Where the outlines are too far left or too high, " +
			"raise the offset x or y by as much; too far right or too low, lower it.",
			size: 10 * pt, least: smallest, lines: 5, gap: 1},
		{text: fmt.Sprintf("Offsets of this print: x %+.1f mm, y %+.1f mm", opt.OffsetX, opt.OffsetY), face: bold,
			size: 10 * pt, least: smallest, lines: 1, gap: 2},
	}, rect{panel.x + 24, panel.y + 5, panel.w - 28, panel.h - 22}, align{top: true})
}

// ruler is 50 mm long, with a tick each millimetre and a number each ten. Its zero is at x, y; it runs right or down.
func (c *composer) ruler(x, y float64, right bool) {
	tick := func(at, length float64) {
		if right {
			c.vline(x+at, y, length)
		} else {
			c.hline(x, y+at, length)
		}
	}
	for mm := range 51 {
		length := 2.0
		switch {
		case mm%10 == 0:
			length = 5
			label := strconv.Itoa(mm)
			t := text{size: 7 * pt, face: regular, s: label, x: x + 6, y: y + float64(mm) + 0.9}
			if right {
				t.x, t.y = x+float64(mm)-regular.width(label)*t.size/2, y+8
			}
			c.write(t)
		case mm%5 == 0:
			length = 3.5
		}
		tick(float64(mm), length)
	}
	if right {
		c.hline(x, y, 50)
		c.write(text{x: x + 53, y: y + 8, size: 7 * pt, face: regular, s: "mm"})
	} else {
		c.vline(x, y, 50)
	}
}
