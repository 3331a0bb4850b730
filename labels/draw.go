package labels

import (
	"fmt"
	"strings"
)

// drawing is a label ready to be written: where every mark goes, in mm from
// the top left corner of the content.
type drawing struct {
	shapes [][]point // black polygons
	texts  []text
	symbol symbol
}

type point struct{ x, y float64 }

// text is one line; y is its baseline.
type text struct {
	x, y  float64
	size  float64 // em, mm
	face  face
	white bool // on a black shape
	s     string
}

// symbol is a QR symbol; x and y are the corner of its first module, inside
// the quiet zone.
type symbol struct {
	Fit
	text string
	x, y float64
}

// rect is a rectangle by its corner and size.
type rect struct{ x, y, w, h float64 }

func (r rect) size() Size { return Size{r.w, r.h} }

func (r rect) polygon() []point {
	return []point{{r.x, r.y}, {r.x + r.w, r.y}, {r.x + r.w, r.y + r.h}, {r.x, r.y + r.h}}
}

// composer collects the drawing of one label, and the first reason against it.
type composer struct {
	box      Size    // what may be printed on
	least    float64 // smallest module, mm
	drawing  drawing
	warnings []Warning
	err      error
}

// compose draws l into content, a box within a label of the given size.
func compose(l Label, label, content Size) (*composer, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	c := &composer{box: content, least: leastModule(label)}
	l.draw(c)
	return c, c.err
}

func (c *composer) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *composer) warn(field, format string, args ...any) {
	c.warnings = append(c.warnings, Warning{Field: field, Text: fmt.Sprintf(format, args...)})
}

// wide tells whether the symbol stands beside the text instead of above it.
func (c *composer) wide(box rect) bool { return box.w >= 1.25*box.h }

// split cuts box into a square for the symbol, quiet zone included, and the
// rest for text. The square takes at most share of the longer side.
func (c *composer) split(box rect, share float64) (square, rest rect) {
	if c.wide(box) {
		side := min(box.h, share*box.w)
		square = rect{box.x, box.y + (box.h-side)/2, side, side}
		return square, rect{box.x + side, box.y, box.w - side, box.h}
	}
	side := min(box.w, share*box.h)
	square = rect{box.x + (box.w-side)/2, box.y, side, side}
	return square, rect{box.x, box.y + side, box.w, box.h - side}
}

// place puts the symbol of address into a square that includes its quiet zone.
func (c *composer) place(address string, square rect) {
	f, err := choose(address, square.w, c.least)
	if err != nil {
		c.fail(err)
		return
	}
	quiet := quietZone * f.ModuleMM
	c.drawing.symbol = symbol{Fit: f, text: address, x: square.x + quiet, y: square.y + quiet}
}

// stack prints blocks below each other in box, centred in its height; in a tall
// label lines are centred as well.
func (c *composer) stack(blocks []block, box rect, centre bool) {
	blocks = c.ready(blocks)
	sets, err := column(blocks, box.size())
	if err != nil {
		c.fail(err)
		return
	}
	height := 0.0
	for i, s := range sets {
		height += s.height()
		if i > 0 {
			height += s.gap
		}
	}
	y := box.y + (box.h-height)/2
	for i, s := range sets {
		if i > 0 {
			y += s.gap
		}
		c.print(s, rect{box.x, y, box.w, s.height()}, centre)
		y += s.height()
		if s.shortened {
			c.warn(s.field, "shortened to fit")
		}
	}
}

// ready makes the texts printable, warns of missing glyphs and leaves out empty
// blocks.
func (c *composer) ready(blocks []block) []block {
	out := make([]block, 0, len(blocks))
	for _, b := range blocks {
		if b.text = c.clean(b.field, b.text); b.text != "" {
			out = append(out, b)
		}
	}
	return out
}

func (c *composer) clean(field, s string) string {
	s, lacking := printable(s)
	if len(lacking) > 0 {
		c.warn(field, "the font has no glyph for %s", strings.Join(lacking, ", "))
	}
	return s
}

// print draws a set into r, which is exactly as high as it needs.
func (c *composer) print(s set, r rect, centre bool) {
	y := r.y
	if s.band {
		c.drawing.shapes = append(c.drawing.shapes, r.polygon())
		y += s.size * bandPad
	}
	for _, line := range s.lines {
		x := r.x
		if centre || s.band {
			x += (r.w - s.face.width(line)*s.size) / 2
		}
		c.drawing.texts = append(c.drawing.texts, text{x, y + ascent*s.size, s.size, s.face, s.band, line})
		y += s.size * leading
	}
}
