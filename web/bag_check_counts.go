package web

import (
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// counted is what a form counted, and which row of it shows each line.
type counted struct {
	lines   []inventory.CheckLine
	shown   []string // per line: the prefix of its row's fields
	explain []string // per line: that of the row whose difference wants a reason
}

// readTicked reads a full check, and how many lines of it were not counted. A lot that was neither ticked, nor changed,
// nor inspected was not looked at, and is left out. Forms of before did not say what was ticked: they count whole.
func readTicked(f *form) (c *counted, left int) {
	if f.text("ticks") == "" {
		return readCounts(f, nil), 0
	}
	looked, lines := lotsAnswered(f), map[string]bool{}
	passed := map[int64]bool{}
	for _, row := range rowsWith(f, countPrefix, ".counted") {
		lot := lotOfRow(row)
		if f.text(row+".counted") != f.text(row+".expected") || f.text(row+".reason") != "" {
			looked[lot] = true
		}
	}
	for _, row := range rowsWith(f, countPrefix, ".counted") {
		if lot := lotOfRow(row); f.text(seenPrefix+row) == "" && !looked[lot] {
			passed[lot] = true
			line, _, _ := strings.Cut(strings.TrimPrefix(row, countPrefix), ".")
			if line == offList {
				line = row
			}
			lines[line] = true
		}
	}
	if len(lines) > 0 && f.text("partial") == "" {
		f.wrong("partial", message.M("{1} {1|line|lines} not counted", len(lines)))
	}
	return readCounts(f, passed), len(lines)
}

// readCounts reads the counts as they were sent, but for the lots that were passed over, whatever the bag holds by
// now: one that no longer fits is kept for the quartermaster.
func readCounts(f *form, passed map[int64]bool) *counted {
	var all []inventory.CheckLine
	rows := map[int64][]string{}
	for _, row := range rowsWith(f, countPrefix, ".counted") {
		if passed[lotOfRow(row)] {
			continue
		}
		l := inventory.CheckLine{LotID: lotOfRow(row), Counted: f.number(row + ".counted")}
		l.Reason, l.CameFrom = readReason(f.text(row + ".reason"))
		if f.text(row+".counted") == "" {
			f.wrong(row+".counted", message.M("enter a count, 0 for none"))
		}
		if l.Reason == inventory.CountUsed {
			l.Incident = f.text("incident")
		}
		if f.values.Has(row + ".expected") {
			n := f.number(row + ".expected")
			l.Expected = &n
		}
		all, rows[l.LotID] = append(all, l), append(rows[l.LotID], row)
	}
	c := &counted{lines: inventory.MergeCounts(all)}
	n := map[int64]int{}
	for _, l := range c.lines {
		n[l.LotID]++
	}
	for _, l := range c.lines {
		of, rest := rows[l.LotID], []string(nil)
		if n[l.LotID] == len(of) { // each row is a line of its own
			of, rest = of[:1], of[1:]
			rows[l.LotID], n[l.LotID] = rest, n[l.LotID]-1
		}
		c.shown, c.explain = append(c.shown, of[0]), append(c.explain, rowToExplain(f, of, rest))
	}
	return c
}

// rowToExplain is the row whose difference wants a reason: the first of a
// line, or else of the others of its lot, that differs and gives none.
func rowToExplain(f *form, of, rest []string) string {
	for _, row := range slices.Concat(of, rest) {
		if f.text(row+".counted") != f.text(row+".expected") && f.text(row+".reason") == "" {
			return row
		}
	}
	return of[0]
}

const (
	countPrefix = "row."
	seenPrefix  = "seen."
	offList     = "-1" // the line of what is not on the list
)

func rowName(line int, lot int64) string {
	return countPrefix + strconv.Itoa(line) + "." + formatID(lot)
}

func lotOfRow(row string) int64 {
	_, lot, _ := strings.Cut(strings.TrimPrefix(row, countPrefix), ".")
	return idOf(lot) // 0 is no lot, and is refused as such
}

// name turns the path of a wrong field of the check into the field's name on the form.
func (c *counted) name(path string) string {
	i, field, ok := indexed(path, "lines")
	if !ok || i >= len(c.shown) {
		return path
	}
	if field == "reason" || field == "came_from" { // the bag is chosen among the reasons
		return c.explain[i] + ".reason"
	}
	return c.shown[i] + "." + field
}
