package labels

import (
	"strconv"
	"strings"

	"stowkeeper/inventory/message"
)

// Sheet is a sheet of labels described by its geometry alone. All measures are
// millimetres from the top left corner of the paper.
type Sheet struct {
	Name           string // as in "a4-3x7": paper, columns, rows
	Paper          Size
	Columns, Rows  int
	Label          Size
	Left, Top      float64 // corner of the first label
	PitchX, PitchY float64 // from one label's corner to the next one's
}

const inch = 25.4

var (
	a4     = Size{210, 297}
	letter = Size{8.5 * inch, 11 * inch}
)

// sheets is the list. Grids are centred on the paper (exact fit); where label layouts in circulation spread, the
// spread is within a millimetre and the offset setting takes it up. Geometry: common practice.
var sheets = []Sheet{
	{Name: "a4-3x7", Paper: a4, Columns: 3, Rows: 7, Label: Size{63.5, 38.1}, Left: 7.21, Top: 15.15, PitchX: 66.04,
		PitchY: 38.1},
	{Name: "a4-3x8", Paper: a4, Columns: 3, Rows: 8, Label: Size{70, 37}, Left: 0, Top: 0.5, PitchX: 70, PitchY: 37},
	{Name: "a4-2x4", Paper: a4, Columns: 2, Rows: 4, Label: Size{99.1, 67.7}, Left: 4.65, Top: 13.1, PitchX: 101.6,
		PitchY: 67.7},
	{Name: "a4-2x2", Paper: a4, Columns: 2, Rows: 2, Label: Size{99.1, 139}, Left: 4.65, Top: 9.5, PitchX: 101.6,
		PitchY: 139},
	{Name: "a4-1x1", Paper: a4, Columns: 1, Rows: 1, Label: a4, PitchX: 210, PitchY: 297},
	{Name: "letter-3x10", Paper: letter, Columns: 3, Rows: 10, Label: Size{2.625 * inch, inch},
		Left: 0.1875 * inch, Top: 0.5 * inch, PitchX: 2.75 * inch, PitchY: inch},
	{Name: "letter-2x5", Paper: letter, Columns: 2, Rows: 5, Label: Size{4 * inch, 2 * inch},
		Left: 0.15625 * inch, Top: 0.5 * inch, PitchX: 4.1875 * inch, PitchY: 2 * inch},
}

// Sheets returns every sheet that can be printed, A4 first.
func Sheets() []Sheet { return append([]Sheet(nil), sheets...) }

// SheetByName returns the sheet of that name, or a *FieldError that lists the names there are.
func SheetByName(name string) (Sheet, error) {
	for _, s := range sheets {
		if s.Name == name {
			return s, nil
		}
	}
	return Sheet{}, &FieldError{Field: "sheet", Fix: message.M("choose one of {1}", strings.Join(SheetNames(), ", "))}
}

// SheetNames lists the names of all sheets, in the order of Sheets.
func SheetNames() []string {
	names := make([]string, len(sheets))
	for i, s := range sheets {
		names[i] = s.Name
	}
	return names
}

// PerPage is the number of labels on one sheet.
func (s Sheet) PerPage() int { return s.Columns * s.Rows }

// String describes the sheet for people choosing one.
func (s Sheet) String() string { return s.Text().String() }

// Text is the same as a message.
func (s Sheet) Text() message.Message {
	paper := message.M("A4")
	if s.Paper == letter {
		paper = message.M("US Letter")
	}
	if s.PerPage() == 1 {
		return message.M("{1}, whole page", paper)
	}
	return message.M("{1}, {2} × {3} labels of {4} × {5} mm", paper, s.Columns, s.Rows, tenth(s.Label.W), tenth(s.Label.H))
}

// whole and tenth write a measure without and with one decimal.
func whole(x float64) string { return strconv.FormatFloat(x, 'f', 0, 64) }
func tenth(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// Position is the top left corner of label i of a page, i from 0, counted along the rows.
func (s Sheet) Position(i int) (x, y float64) {
	return s.Left + float64(i%s.Columns)*s.PitchX, s.Top + float64(i/s.Columns)*s.PitchY
}

// rim is the edge of the paper that most desk printers leave blank: about 4 to 5 mm, common practice.
const rim = 5

// margin is the blank border inside a label of that size.
func margin(label Size) float64 { return min(8, max(2, 0.03*min(label.W, label.H))) }

// content is the size, the same for every label of the sheet, of what may be
// printed on: inside the label's margin and the printer's rim.
func (s Sheet) content() Size {
	left, right := s.insets(s.Left, s.PitchX, s.Label.W, s.Paper.W, s.Columns)
	top, bottom := s.insets(s.Top, s.PitchY, s.Label.H, s.Paper.H, s.Rows)
	return Size{s.Label.W - widest(left, right), s.Label.H - widest(top, bottom)}
}

// contentAt is the top left corner of the content of label i of a page.
func (s Sheet) contentAt(i int) (x, y float64) {
	x, y = s.Position(i)
	size := s.content()
	left, right := s.insets(s.Left, s.PitchX, s.Label.W, s.Paper.W, s.Columns)
	top, bottom := s.insets(s.Top, s.PitchY, s.Label.H, s.Paper.H, s.Rows)
	col, row := i%s.Columns, i/s.Columns
	// What the widest neighbour needs and this label does not is shared out.
	x += left[col] + (s.Label.W-left[col]-right[col]-size.W)/2
	y += top[row] + (s.Label.H-top[row]-bottom[row]-size.H)/2
	return x, y
}

// insets gives, along one axis, the blank border before and after the content of each of n labels.
func (s Sheet) insets(start, pitch, side, paper float64, n int) (before, after []float64) {
	m := margin(s.Label)
	before, after = make([]float64, n), make([]float64, n)
	for i := range n {
		edge := start + float64(i)*pitch
		before[i] = max(m, rim-edge)
		after[i] = max(m, rim-(paper-edge-side))
	}
	return before, after
}

func widest(before, after []float64) float64 {
	w := 0.0
	for i := range before {
		w = max(w, before[i]+after[i])
	}
	return w
}
