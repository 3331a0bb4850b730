package inventory

import "slices"

// CellKind is how a line of a kit list stands in the strip of its bag.
type CellKind string

// The kinds of cell, in the order in which they are tried: the first that fits is shown.
const (
	CellNone    CellKind = "none"    // nothing usable
	CellExpired CellKind = "expired" // something past its last usable day is still in the bag
	CellShort   CellKind = "short"   // less than the list asks for
	CellEnding  CellKind = "ending"  // enough, and something ends within the horizon
	CellEnough  CellKind = "enough"  // also what is only to be present, or is carried elsewhere
)

// Cell is one line of a bag's kit list.
type Cell struct {
	Kind  CellKind
	Stops bool // the line keeps the bag from going out
}

// StripPouch is the cells of one pouch, in the order of the list.
type StripPouch struct {
	Name  string // empty for what is in no pouch
	Cells []Cell
}

// Act tells whether a line needs somebody now.
func (c Cell) Act() bool { return c.Stops || c.Kind != CellEnough && c.Kind != CellEnding }

// Gaps counts the cells that need somebody now.
func (p StripPouch) Gaps() int { return p.count(Cell.Act) }

// Ending counts the cells that are enough for now only.
func (p StripPouch) Ending() int { return p.kind(CellEnding) }

func (p StripPouch) kind(k CellKind) int { return p.count(func(c Cell) bool { return c.Kind == k }) }

func (p StripPouch) count(of func(Cell) bool) int {
	n := 0
	for _, c := range p.Cells {
		if of(c) {
			n++
		}
	}
	return n
}

// Strip is a bag's kit list at a glance: a cell for each line, by pouches in the order in which the list first names
// them. Seals, checks, observations of no lot, kit rules and modules are no lines and have no cell.
type Strip []StripPouch

// Strip arranges what a reading found by the lines of the list.
func (r Readiness) Strip() Strip {
	past := r.linesOf(func(f Finding) bool { return f.Kind == FindPastEnd })
	soon := r.linesOf(func(f Finding) bool { return f.Kind == FindEndsSoon })
	stops := r.linesOf(func(f Finding) bool { return f.Severity == SeverityStop })
	var s Strip
	for i, l := range r.Lines {
		at := slices.IndexFunc(s, func(p StripPouch) bool { return p.Name == l.Pouch })
		if at < 0 {
			at = len(s)
			s = append(s, StripPouch{Name: l.Pouch})
		}
		s[at].Cells = append(s[at].Cells, Cell{l.cell(past[i], soon[i]), l.Usable < l.Minimum || stops[i]})
	}
	return s
}

// cell is the kind of a line, given whether something of it has ended and whether something of it ends soon.
func (l LineState) cell(past, soon bool) CellKind {
	switch {
	case l.Par > 0 && l.Usable == 0:
		return CellNone
	case past:
		return CellExpired
	case l.Shortfall > 0:
		return CellShort
	case soon:
		return CellEnding
	}
	return CellEnough
}

// linesOf tells which lines the lots of some findings lie on; a lot that is all
// beyond what the lines ask for belongs to the first line of its item.
func (r Readiness) linesOf(of func(Finding) bool) map[int]bool {
	out := map[int]bool{}
	for _, f := range r.Findings {
		if f.LotID == 0 || !of(f) {
			continue
		}
		found, isIt := false, func(x LotOnLine) bool { return x.LotID == f.LotID }
		for i, l := range r.Lines {
			if slices.ContainsFunc(l.Lots, isIt) {
				out[i], found = true, true
			}
		}
		i := slices.IndexFunc(r.Lines, func(l LineState) bool { return l.Item == f.Item })
		if i >= 0 && !found && slices.ContainsFunc(r.Surplus, isIt) {
			out[i] = true
		}
	}
	return out
}

// StripCount is how many cells of a strip are of each kind, for whoever is told of it in words.
type StripCount struct{ Lines, Enough, Short, None, Ending, Expired, Stops int }

// Count counts the cells of a strip.
func (s Strip) Count() StripCount {
	var n StripCount
	for _, p := range s {
		n.Lines += len(p.Cells)
		n.Enough += p.kind(CellEnough)
		n.Short += p.kind(CellShort)
		n.None += p.kind(CellNone)
		n.Ending += p.kind(CellEnding)
		n.Expired += p.kind(CellExpired)
		n.Stops += p.count(func(c Cell) bool { return c.Stops })
	}
	return n
}
