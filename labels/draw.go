package labels

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// drawing is a label ready to be written: where every mark goes, in mm from the top left corner of the content.
type drawing struct {
	shapes []shape
	texts  []text
	symbol symbol
}

// shape is a filled polygon: black, or white to clear what is under it.
type shape struct {
	points []point
	white  bool
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

// symbol is a QR symbol; x and y are the corner of its first module, inside the quiet zone.
type symbol struct {
	Fit
	text string
	x, y float64
}

// rect is a rectangle by its corner and size.
type rect struct{ x, y, w, h float64 }

func (r rect) size() Size { return Size{r.w, r.h} }

func (r rect) shape() shape {
	return shape{points: []point{{r.x, r.y}, {r.x + r.w, r.y}, {r.x + r.w, r.y + r.h}, {r.x, r.y + r.h}}}
}

// composer collects the drawing of one label, and the first reason against it.
type composer struct {
	box      Size // what may be printed on
	drawing  drawing
	warnings []Warning
	err      error
}

// compose draws l into a box of the size of a label's content.
func compose(l Label, content Size) (*composer, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	c := &composer{box: content}
	l.draw(c)
	return c, c.err
}

func (c *composer) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *composer) warn(field, text string, args ...any) {
	c.warnings = append(c.warnings, Warning{Field: field, Text: message.M(text, args...)})
}

// all is the whole of the box.
func (c *composer) all() rect { return rect{0, 0, c.box.W, c.box.H} }

// wide tells whether the symbol stands beside the text instead of above it.
func (r rect) wide() bool { return r.w >= 1.25*r.h }

// split cuts box into a square for the symbol, quiet zone included, and the
// rest for text. The square takes at most share of the longer side.
func (c *composer) split(box rect, share float64) (square, rest rect) {
	if box.wide() {
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
	f, err := choose(address, square.w)
	if err != nil {
		c.fail(err)
		return
	}
	quiet := quietZone * f.ModuleMM
	c.drawing.symbol = symbol{Fit: f, text: address, x: square.x + quiet, y: square.y + quiet}
}

// align says where a stack of blocks stands in its box.
type align struct {
	top    bool // at the top, not in the middle of the height
	centre bool // lines in the middle of the width, not at the left
}

// stack prints blocks below each other in box and returns the height that they took.
func (c *composer) stack(blocks []block, box rect, at align) float64 {
	blocks = c.ready(blocks)
	sets, err := column(blocks, box.size())
	if err != nil {
		c.fail(err)
		return 0
	}
	c.warnLeftOut(blocks, sets)
	height := 0.0
	for _, s := range sets {
		height += s.gap + s.height()
	}
	y := box.y
	if !at.top {
		y += (box.h - height) / 2
	}
	for _, s := range sets {
		y += s.gap
		c.print(s, rect{box.x, y, box.w, s.height()}, at.centre)
		y += s.height()
		if s.shortened {
			c.warn(s.field, "shortened to fit")
		}
	}
	return height
}

// warnLeftOut warns of given texts that are not printed; the address does not count, since the symbol holds it.
func (c *composer) warnLeftOut(blocks []block, sets []set) {
	for _, b := range blocks {
		printed := slices.ContainsFunc(sets, func(s set) bool { return s.field == b.field && s.text == b.text })
		if !printed && b.field != "" && b.field != "Address" {
			c.warn(b.field, "not printed: no room")
		}
	}
}

// ready makes the texts printable, warns of missing glyphs and leaves out empty blocks.
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
		c.warn(field, "cannot print {1}", strings.Join(lacking, ", "))
	}
	return s
}

// print draws a set into r, which is exactly as high as it needs.
func (c *composer) print(s set, r rect, centre bool) {
	y := r.y
	if s.band {
		c.fill(r)
		y += s.size * bandPad
	}
	for _, line := range s.lines {
		x := r.x
		if centre || s.band {
			x += (r.w - s.face.width(line)*s.size) / 2
		}
		c.write(text{x: x, y: y + ascent*s.size, size: s.size, face: s.face, white: s.band, s: line})
		y += s.size * leading
	}
}

func (c *composer) write(t text) {
	t.s = strings.ReplaceAll(t.s, glue, " ")
	c.drawing.texts = append(c.drawing.texts, t)
}

func (c *composer) fill(r rect) { c.drawing.shapes = append(c.drawing.shapes, r.shape()) }
