package web

import (
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// PointFields is one point of an inspection with the buttons to answer it.
type PointFields struct {
	Point      string
	Row        string // prefix of its fields' names
	Pass, Fail bool   // what was answered
	NoteOnly   bool   // one that fails is only noted
	Note       Field
	ID         string
	Fix        message.Message
}

// InspectFields is the points of one device in a full check.
type InspectFields struct {
	Lot     int64
	Name    string
	Label   message.Message
	Due     inventory.Day // last day for it; 0 when it is not asked for
	Overdue bool
	Points  []PointFields
	Open    bool // something was answered already
}

const pointPrefix = "point."

func pointRow(lot int64, n int) string {
	return pointPrefix + formatID(lot) + "." + strconv.Itoa(n)
}

const (
	answerPass = "pass"
	answerFail = "fail"
)

// pointFields makes the fields of every point of an item for one device.
func pointFields(f *form, it inventory.Item, lot int64) []PointFields {
	var out []PointFields
	for n, pt := range append(append([]string{}, it.Points()...), it.InspectionNotes...) {
		row := pointRow(lot, n)
		x := PointFields{Point: pt, Row: row, Pass: f.text(row) == answerPass, Fail: f.text(row) == answerFail,
			NoteOnly: n >= len(it.Points()), ID: Field{Name: row}.ID()}
		x.Note = f.field(row+".note", message.M("Note on: {1}", pt))
		x.Fix = f.field(row, message.Plain(pt)).Fix
		out = append(out, x)
	}
	return out
}

// readPoints reads the points that were answered for a device, and the rows they came from.
func readPoints(f *form, it inventory.Item, lot int64) (points []inventory.PointCheck, rows []string) {
	for n, pt := range append(append([]string{}, it.Points()...), it.InspectionNotes...) {
		row := pointRow(lot, n)
		answer := f.text(row)
		if answer == "" {
			continue
		}
		points = append(points, inventory.PointCheck{Point: pt, Pass: answer == answerPass, Note: f.text(row + ".note")})
		rows = append(rows, row)
	}
	return points, rows
}

// pointName turns the path of a wrong field of an inspection into the field's name on the form.
func pointName(path string, rows []string) string {
	i, field, ok := indexed(path, "points")
	switch {
	case !ok || i >= len(rows):
		return path
	case field == "note":
		return rows[i] + ".note"
	}
	return rows[i]
}

func lotsAnswered(f *form) map[int64]bool {
	out := map[int64]bool{}
	for name := range f.values {
		rest, ok := strings.CutPrefix(name, pointPrefix)
		if !ok || f.text(name) == "" {
			continue
		}
		lot, _, _ := strings.Cut(rest, ".")
		if id, err := strconv.ParseInt(lot, 10, 64); err == nil {
			out[id] = true
		}
	}
	return out
}
