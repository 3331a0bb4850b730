package exchange

import (
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/table"
)

// header is where each known column stands.
type header map[string]int

// record is one row of a table while it is read.
type record struct {
	im       *importing
	kind     ImportKind
	columns  []column
	header   header
	row      table.Row
	what     string // what the row is about, for the report
	problems inventory.Problems
	rename   map[string]string // paths of fields that are called otherwise here
}

// header finds the known columns, whatever their order, case and blanks.
func (im *importing) header(kind ImportKind, columns []column, row table.Row) (header, bool) {
	h := header{}
	r := &record{im: im, kind: kind, columns: columns, header: h, row: row, what: "header"}
	for i, c := range row.Cells {
		name, known := knownColumn(columns, c.Text)
		_, twice := h[name]
		switch {
		case strings.TrimSpace(c.Text) == "":
		case !known:
			im.report.Ignored = append(im.report.Ignored, message.M("{1}: column {2}", string(kind), shortened(c.Text)))
		case twice:
			r.problems.Add("", "column {1} is there twice", name)
		default:
			h[name] = i
		}
	}
	for _, c := range columns {
		if _, ok := h[c.name]; c.presence == needed && !ok {
			r.problems.Add("", "column {1} is missing in the first row", c.name)
		}
	}
	if len(r.problems) > 0 {
		_ = r.refuse(r.problems.Err()) // an Invalid error is only noted
		return nil, false
	}
	return h, true
}

// knownColumn finds the column that a header's cell names, also as it was once called.
func knownColumn(columns []column, cell string) (string, bool) {
	cell = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(cell, "\ufeff")))
	name := strings.Join(strings.FieldsFunc(cell, func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), "_")
	for _, name := range []string{name, formerNames[name]} {
		if slices.ContainsFunc(columns, func(c column) bool { return c.name == name }) {
			return name, true
		}
	}
	return "", false
}

// cell is the cell of a column, empty where the file does not have it.
func (r *record) cell(name string) table.Cell {
	i, ok := r.header[name]
	if !ok || i >= len(r.row.Cells) {
		return table.Cell{}
	}
	return r.row.Cells[i]
}

// raw is a cell as it was before it was exported.
func (r *record) raw(name string) string { return table.Arm(r.cell(name).Text) }

func (r *record) text(name string) string { return strings.TrimSpace(r.raw(name)) }

func (r *record) codes(name string) []string {
	var out []string
	for _, c := range strings.FieldsFunc(r.raw(name), func(c rune) bool { return strings.ContainsRune(" ,;\n\r\t", c) }) {
		out = append(out, inventory.NormalCode(c))
	}
	return out
}

func (r *record) lines(name string) []string {
	var out []string
	for line := range strings.Lines(r.raw(name)) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// number reads a whole number, also one with nothing but noughts after a point or comma; nothing is 0.
func (r *record) number(name string) int {
	s := r.text(name)
	if s == "" {
		return 0
	}
	n, ok := wholeNumber(s)
	r.problems.When(!ok, name, "enter a whole number")
	return n
}

// wholeNumber reads digits. Three noughts after a point or comma could as well be thousands, so they are refused.
func wholeNumber(s string) (int, bool) {
	whole, rest, cut := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	if cut && (rest == "" || len(rest) == 3 || strings.Trim(rest, "0") != "") {
		return 0, false
	}
	if len(whole) > 9 || strings.Trim(whole, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.Atoi(whole)
	return n, err == nil
}

func (r *record) yes(name string) bool {
	switch strings.ToLower(r.text(name)) {
	case "yes", "y", "true", "1", "x":
		return true
	case "", "no", "n", "false", "0", "-":
		return false
	}
	r.problems.Add(name, "choose one of {1}", "yes, no")
	return false
}

// dated is a cell as a date is written: what a workbook shows as a date comes
// with its meaning, and else people write it as they like.
func (r *record) dated(name string) string {
	if d := r.cell(name).Date; d != "" {
		return d
	}
	date, unclear := DateWritten(r.text(name), r.im.in.Dates)
	r.problems.When(unclear, name, "choose what 05/06/2028 means in this file")
	return date
}

func (r *record) day(name string) inventory.Day {
	s := r.dated(name)
	if s == "" {
		return 0
	}
	d, err := inventory.ParseDay(s)
	r.problems.When(err != nil, name, "enter a date like 2027-06-14")
	return d
}

func (r *record) instant(name string) inventory.Instant {
	var at inventory.Instant
	err := at.UnmarshalText([]byte(r.text(name)))
	r.problems.When(err != nil, name, "enter date and time like 2027-06-14T07:30")
	r.problems.When(err == nil && at != 0 && (at < inventory.Earliest || at > r.im.now), name,
		"enter a past time")
	return at
}

// position is where the column of a wrong field stands in the file, after all others where it has none.
func (r *record) position(path string) int {
	if i, ok := r.header[r.columnOf(path)]; ok {
		return i
	}
	return len(r.row.Cells)
}

// columnOf is the column that a wrong field stands in, empty for none.
func (r *record) columnOf(path string) string {
	if i := strings.LastIndexAny(path, "]."); i >= 0 && i+1 < len(path) {
		path = strings.TrimPrefix(path[i+1:], ".")
	}
	if i := strings.IndexByte(path, '['); i > 0 {
		path = path[:i]
	}
	if to, ok := r.rename[path]; ok {
		path = to
	}
	if slices.ContainsFunc(r.columns, func(c column) bool { return c.name == path }) {
		return path
	}
	return ""
}
