package inventory

import (
	"cmp"
	"slices"
)

// contents is what lies in one bag, arranged for allocating its units to the lines of its list.
type contents struct {
	view    BagView
	through []Day            // per stock row: last usable day, 0 for none
	fit     []bool           // per stock row: counts at all, dates apart
	apart   []int            // per stock row: units that do not count because of reports under review
	reports []UnderReview    // counted, and worded
	byItem  map[string][]int // stock rows of an item, first expired first
	modules []*contents      // of the bags inside
}

// portion is a number of units of one stock row.
type portion struct{ row, qty int }

// allocation says which units count for which line.
type allocation struct {
	lines []([]portion) // per line of the list
	left  []int         // per stock row: usable units that no line took
}

// newContents works out the dates of what lies in the bag, once for all days that will be asked about.
func newContents(v BagView, today Day) *contents {
	s := &contents{view: v, through: make([]Day, len(v.Stock)), fit: make([]bool, len(v.Stock)),
		apart: make([]int, len(v.Stock)), reports: WordReports(v.Reports, v.Station), byItem: map[string][]int{}}
	apart := map[int64]int{}
	for _, u := range s.reports {
		for _, r := range u.Says {
			apart[r.LotID] += r.Counts
		}
	}
	for i, st := range v.Stock {
		s.apart[i] = min(st.Qty, apart[st.Lot.ID])
		apart[st.Lot.ID] -= s.apart[i]
		it := v.Items[st.Lot.Item]
		s.through[i] = UsableThrough(it, st.Lot, today)
		s.fit[i] = Usable(it, st.Lot, 0, v.Bag.Purpose)
		s.byItem[st.Lot.Item] = append(s.byItem[st.Lot.Item], i)
	}
	for _, m := range v.Modules {
		s.modules = append(s.modules, newContents(m, today))
	}
	for _, rows := range s.byItem {
		slices.SortFunc(rows, func(a, b int) int {
			return cmp.Or(CompareEnd(s.through[a], s.through[b]), cmp.Compare(v.Stock[a].Lot.ID, v.Stock[b].Lot.ID))
		})
	}
	return s
}

// usable tells whether a stock row counts on a day.
func (s *contents) usable(row int, day Day) bool {
	return s.fit[row] && !s.through[row].passed(day)
}

// allocate gives each usable unit to at most one line: lines in list order up to their minimum with their own item,
// then up to the minimum with accepted items in their order, then likewise up to par.
func (s *contents) allocate(day Day) allocation {
	lines := s.view.List.Lines
	a := allocation{lines: make([][]portion, len(lines)), left: make([]int, len(s.view.Stock))}
	for i, st := range s.view.Stock {
		if s.usable(i, day) {
			a.left[i] = st.Qty - s.apart[i]
		}
	}
	got := make([]int, len(lines))
	fill := func(target func(Line) int, own bool) {
		for i, l := range lines {
			want := target(l) - got[i]
			if want <= 0 {
				continue
			}
			if own {
				got[i] += a.take(i, s.byItem[l.Item], want)
				continue
			}
			for _, item := range l.Accepts {
				n := a.take(i, s.byItem[item], want)
				got[i], want = got[i]+n, want-n
			}
		}
	}
	toMinimum := func(l Line) int { _, n := l.Wanted(); return n }
	toPar := func(l Line) int { n, _ := l.Wanted(); return n }
	fill(toMinimum, true)
	fill(toMinimum, false)
	fill(toPar, true)
	fill(toPar, false)
	return a
}

// take moves up to want units of the rows to a line and returns how many.
func (a *allocation) take(line int, rows []int, want int) int {
	taken := 0
	for _, row := range rows {
		n := min(want-taken, a.left[row])
		if n <= 0 {
			continue
		}
		a.left[row] -= n
		taken += n
		a.give(line, row, n)
	}
	return taken
}

// give counts units of a row for a line, in one portion however often.
func (a *allocation) give(line, row, n int) {
	for i := range a.lines[line] {
		if a.lines[line][i].row == row {
			a.lines[line][i].qty += n
			return
		}
	}
	a.lines[line] = append(a.lines[line], portion{row, n})
}

// usableOn returns how many units count for a line.
func (a allocation) usableOn(line int) int {
	n := 0
	for _, p := range a.lines[line] {
		n += p.qty
	}
	return n
}
