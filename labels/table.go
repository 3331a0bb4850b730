package labels

import (
	"slices"
	"strconv"

	"stowkeeper/inventory/message"
)

const (
	rowHeight   = 1.2      // of a line of the table, in ems
	columnGap   = 2.5      // between columns, mm
	leastColumn = 14       // of a column, in ems: room for some 25 characters
	rule        = 0.2      // thickness of the line above the table, mm
	mostColumns = 4        // of a table
	shrink      = 1 / 1.06 // from one type size tried to the next
)

// row is a line of the table: a pouch's name, or an item and its number.
type row struct {
	pouch  bool
	number string
	text   string
}

// table prints the contents into box in as many columns as give the largest type, names whole if there is any size at
// which they are. It refuses a box that does not hold every line at the smallest type.
func (c *composer) table(lines []CardLine, box rect) arrangement {
	if c.err != nil {
		return arrangement{}
	}
	rows := c.rows(lines)
	box.y, box.h = box.y+3*rule, box.h-3*rule
	layout, ok := arrange(rows, box)
	if !ok {
		c.fail(&RefusedError{
			Reason:  message.M("{1} lines do not fit at {2} pt", len(lines), whole(smallest/pt)),
			Nearest: message.M("print one card per part"),
		})
		return layout
	}
	c.fill(rect{box.x, box.y - 3*rule, box.w, rule})
	for i, r := range rows {
		at := layout.cells[i]
		c.row(r, box.x+float64(at.column)*(layout.width+columnGap), box.y+float64(at.line)*layout.size*rowHeight, layout)
	}
	if layout.shortened {
		c.warn("Contents.Item", "shortened to fit")
	}
	return layout
}

// rows puts the name of each pouch before its lines.
func (c *composer) rows(lines []CardLine) []row {
	var out []row
	pouch := ""
	for _, l := range lines {
		if l.Pouch != pouch {
			pouch = l.Pouch
			if name := c.clean("Contents.Pouch", pouch); name != "" {
				out = append(out, row{pouch: true, text: name})
			}
		}
		r := row{text: c.clean("Contents.Item", l.Item)}
		if l.Quantity > 0 {
			r.number = strconv.Itoa(l.Quantity)
		}
		out = append(out, r)
	}
	return out
}

// cell is the place of a row.
type cell struct{ column, line int }

// arrangement is how a table is set.
type arrangement struct {
	size      float64 // of the type, mm
	width     float64 // of a column, mm
	numbers   float64 // width of the numbers, ems
	cells     []cell  // one a row
	shortened bool
}

// arrange tries sizes from the largest down, and for each all numbers of
// columns, first without shortening a name and then with.
func arrange(rows []row, box rect) (arrangement, bool) {
	a := arrangement{}
	for _, r := range rows {
		a.numbers = max(a.numbers, bold.width(r.number))
	}
	for _, a.shortened = range []bool{false, true} {
		for size := max(12*pt, 0.032*box.w); ; size *= shrink {
			a.size = max(size, smallest)
			for columns := 1; columns <= mostColumns; columns++ {
				a.width = (box.w - columnGap*float64(columns-1)) / float64(columns)
				if a.width < leastColumn*a.size && columns > 1 {
					break
				}
				if a.fits(rows, columns, box.h) {
					return a, true
				}
			}
			if a.size == smallest {
				break
			}
		}
	}
	return a, false
}

// fits gives each row its place, a pouch's name never last in a column, and tells whether all have one.
func (a *arrangement) fits(rows []row, columns int, height float64) bool {
	most := int(height/(a.size*rowHeight) + 1e-9)
	if most < 1 {
		return false
	}
	if !a.legible(rows) {
		return false
	}
	a.cells = a.cells[:0]
	at := cell{}
	for i, r := range rows {
		if at.line >= most || r.pouch && at.line == most-1 && i < len(rows)-1 && most > 1 {
			at = cell{at.column + 1, 0}
		}
		if at.column >= columns {
			return false
		}
		a.cells = append(a.cells, at)
		at.line++
	}
	return true
}

// legible tells whether every name is whole or, where shortening is allowed,
// still differs from all others that it differed from.
func (a *arrangement) legible(rows []row) bool {
	if !a.shortened {
		return !slices.ContainsFunc(rows, func(r row) bool { return a.length(r) > a.width })
	}
	whole := map[string]string{}
	for _, r := range rows {
		if r.pouch {
			continue
		}
		short := a.name(r)
		if other, seen := whole[short]; seen && other != r.text {
			return false
		}
		whole[short] = r.text
	}
	return true
}

// name is the text of r as it is printed.
func (a *arrangement) name(r row) string {
	if r.pouch {
		return oneLine(r.text, bold, a.width/a.size)
	}
	return oneLine(r.text, regular, a.width/a.size-a.indent())
}

// length is what a row needs at full length, mm.
func (a *arrangement) length(r row) float64 {
	if r.pouch {
		return bold.width(r.text) * a.size
	}
	return (a.indent() + regular.width(r.text)) * a.size
}

// indent is where names begin, in ems: behind the numbers.
func (a *arrangement) indent() float64 {
	if a.numbers == 0 {
		return 0
	}
	return a.numbers + 0.5
}

// row prints r with the top left corner of its place at x, y.
func (c *composer) row(r row, x, y float64, a arrangement) {
	y += ascent * a.size
	if r.pouch {
		c.write(text{x: x, y: y, size: a.size, face: bold, s: a.name(r)})
		return
	}
	if r.number != "" {
		right := x + a.numbers*a.size
		c.write(text{x: right - bold.width(r.number)*a.size, y: y, size: a.size, face: bold, s: r.number})
	}
	c.write(text{x: x + a.indent()*a.size, y: y, size: a.size, face: regular, s: a.name(r)})
}

// oneLine is s, shortened by rule when it is wider than width ems.
func oneLine(s string, f face, width float64) string {
	if f.width(s) <= width+1e-9 {
		return s
	}
	return shorten(words(s, f), f, width, 1)[0]
}
