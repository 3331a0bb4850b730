package labels

import (
	"strconv"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// pen takes the outline of glyphs, in font units, y down from the baseline.
type pen interface {
	moveTo(x, y float32)
	lineTo(x, y float32)
	quadTo(x1, y1, x, y float32)
	closePath()
}

// outlines draws the glyphs of a line with p, the first one at the origin.
func (f face) outlines(s string, p pen) error {
	m := fonts()[f]
	var buf sfnt.Buffer
	origin := float32(0)
	for _, r := range s {
		i, err := m.font.GlyphIndex(&buf, r)
		if err != nil {
			return err
		}
		segments, err := m.font.LoadGlyph(&buf, i, fixed.I(m.upem), nil)
		if err != nil {
			return err
		}
		trace(segments, origin, p)
		advance, err := m.font.GlyphAdvance(&buf, i, fixed.I(m.upem), font.HintingNone)
		if err != nil {
			return err
		}
		origin += units(advance)
	}
	return nil
}

// trace sends one glyph to p. TrueType outlines have lines and quadratic curves only.
func trace(segments sfnt.Segments, origin float32, p pen) {
	open := false
	for _, s := range segments {
		x0, y0 := origin+units(s.Args[0].X), units(s.Args[0].Y)
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if open {
				p.closePath()
			}
			open = true
			p.moveTo(x0, y0)
		case sfnt.SegmentOpLineTo:
			p.lineTo(x0, y0)
		case sfnt.SegmentOpQuadTo:
			p.quadTo(x0, y0, origin+units(s.Args[1].X), units(s.Args[1].Y))
		}
	}
	if open {
		p.closePath()
	}
}

func units(v fixed.Int26_6) float32 { return float32(v) / 64 }

// svgPen writes an outline as SVG path data in whole font units.
type svgPen struct{ data []byte }

func (s *svgPen) moveTo(x, y float32)         { s.add('M', x, y) }
func (s *svgPen) lineTo(x, y float32)         { s.add('L', x, y) }
func (s *svgPen) quadTo(x1, y1, x, y float32) { s.add('Q', x1, y1, x, y) }
func (s *svgPen) closePath()                  { s.data = append(s.data, 'Z') }

func (s *svgPen) add(op byte, args ...float32) {
	s.data = append(s.data, op)
	for i, a := range args {
		if i > 0 {
			s.data = append(s.data, ' ')
		}
		s.data = strconv.AppendFloat(s.data, float64(a), 'f', 0, 32)
	}
}
