package inventory

import (
	"slices"
)

// layOut arranges what lies in the bag by lines of the list: what counts for each, with what no longer counts beside
// the first line that asks for its item; then what is beyond par, then what is not on the list.
func (s *contents) layOut(a allocation, day Day) (lines []LineState, surplus, notOnList []LotOnLine) {
	lines = make([]LineState, len(s.view.List.Lines))
	for i, l := range s.view.List.Lines {
		par, minimum := l.Wanted()
		lines[i] = LineState{
			Item: l.Item, Pouch: l.Pouch, Par: par, Minimum: minimum, Critical: l.Critical,
			PresenceOnly: l.PresenceOnly, CarriedElsewhere: l.CarriedElsewhere, Usable: a.usableOn(i),
		}
		lines[i].Shortfall = max(0, par-lines[i].Usable)
		for _, p := range a.lines[i] {
			lines[i].Lots = append(lines[i].Lots, s.onLine(p.row, p.qty, day))
		}
	}
	for row, st := range s.view.Stock {
		line, rest := s.lineFor(st.Lot.Item), st.Qty-s.apart[row]
		to := &notOnList
		if line >= 0 {
			to = &lines[line].Lots
		}
		switch {
		case rest == 0:
		case line < 0 || !s.usable(row, day):
			*to = append(*to, s.onLine(row, rest, day))
		case a.left[row] > 0:
			surplus = append(surplus, s.onLine(row, a.left[row], day))
		}
		if rest < st.Qty {
			l := s.onLine(row, st.Qty-rest, day)
			l.Usable = false
			*to = append(*to, l)
		}
	}
	return lines, surplus, notOnList
}

// lineFor returns the first line that asks for an item, else the first that accepts it, else -1.
func (s *contents) lineFor(item string) int { return TakingLine(s.view.List.Lines, item) }

// TakingLine is the first line that asks for an item, else the first that accepts it, else -1.
func TakingLine(lines []Line, item string) int {
	if i := slices.IndexFunc(lines, func(l Line) bool { return l.Item == item }); i >= 0 {
		return i
	}
	return slices.IndexFunc(lines, func(l Line) bool { return slices.Contains(l.Accepts, item) })
}

func (s *contents) onLine(row, qty int, day Day) LotOnLine {
	l := s.view.Stock[row].Lot
	due, _ := InspectionDue(s.view.Items[l.Item], l)
	return LotOnLine{
		LotID: l.ID, Item: l.Item, BatchNo: l.BatchNo, Serial: l.Serial, Qty: qty,
		UsableThrough: s.through[row], Rule: string(s.rule(row, day)), Usable: s.usable(row, day), InspectionDue: due,
		Reported: s.reportedOf(row),
	}
}

// lookAhead finds the first day after day on which the state gets worse if nobody acts, and the first on which the
// bag stops being ready. Only dates can do that: a list or a lot that ends, a lot that comes within the horizon, an
// inspection that falls due. Modules that lie inside count as well.
func (s *contents) lookAhead(r Readiness, inside []Readiness, day Day, horizon int) (change, stop *Change) {
	if r.State == NotReady || r.State == OutOfService {
		return nil, nil
	}
	for _, d := range s.stepDays(day) {
		if f, stops := s.firstStopFinding(d); stops {
			stop = &Change{Date: d, LotID: s.culprit(d, f)}
			break
		}
	}
	for _, m := range inside {
		stop = sooner(stop, m.FirstStop)
	}
	change = stop
	if r.State == Ready {
		if w := s.firstWarning(day, horizon); w != nil && (stop == nil || w.Date < stop.Date) {
			change = w
		}
		for _, m := range inside {
			change = sooner(change, m.NextChange)
		}
	}
	return change, stop
}

// stepDays lists the days after day on which some lot has just ended, in the bag or in a module.
func (s *contents) stepDays(day Day) []Day {
	var days []Day
	for row, through := range s.through {
		if s.fit[row] && through >= day && through != 0 {
			days = append(days, through.AddDays(1))
		}
	}
	for _, m := range s.modules {
		days = append(days, m.stepDays(day)...)
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// firstStopFinding returns a stop that contents and dates alone give on a day.
func (s *contents) firstStopFinding(day Day) (Finding, bool) {
	a := s.allocate(day)
	for _, f := range append(s.lineFindings(a), s.ruleFindings(day)...) {
		if f.Severity == SeverityStop {
			return f, true
		}
	}
	return Finding{}, false
}

// firstWarning returns the first day on which a bag without findings gets one: when a lot comes within the horizon,
// an inspection is overdue, the list ends or a newer version of it is in force.
func (s *contents) firstWarning(day Day, horizon int) *Change {
	var first *Change
	earlier := func(d Day, lot int64) {
		if d > day && (first == nil || d < first.Date) {
			first = &Change{Date: d, LotID: lot}
		}
	}
	for row, through := range s.through {
		l := s.view.Stock[row].Lot
		if through != 0 {
			earlier(through.AddDays(-horizon), l.ID)
		}
		if from, ok := overdueFrom(s.view.Items[l.Item], l); ok {
			earlier(from, l.ID)
		}
	}
	if end := s.view.List.ValidTo; end != 0 {
		earlier(end.AddDays(1), 0)
	}
	for _, k := range s.view.Versions {
		if k.Version > s.view.List.Version {
			earlier(k.ValidFrom, 0)
		}
	}
	return first
}

// culprit returns the lot that ended the day before and is behind a finding: one that would count against it, else
// one that another line lived on, which now takes what this one had.
func (s *contents) culprit(day Day, f Finding) int64 {
	var other int64
	for row, through := range s.through {
		l := s.view.Stock[row].Lot
		if through != day.AddDays(-1) || !s.fit[row] {
			continue
		}
		if s.countsFor(l.Item, f) {
			return l.ID
		}
		if other == 0 && s.lineFor(l.Item) >= 0 {
			other = l.ID
		}
	}
	for _, m := range s.modules { // a rule counts what lies in modules too
		for row, through := range m.through {
			if l := m.view.Stock[row].Lot; through == day.AddDays(-1) && m.fit[row] && m.countsFor(l.Item, f) {
				return l.ID
			}
		}
	}
	return other
}

// countsFor tells whether units of an item would count against a finding: as
// the line's own or accepted item, or in the category that a rule counts.
func (s *contents) countsFor(item string, f Finding) bool {
	if f.category != "" {
		return s.view.Items[item].Category == f.category
	}
	if item == f.Item || f.Kind == FindKitRule {
		return item == f.Item
	}
	return slices.ContainsFunc(s.view.List.Lines, func(l Line) bool {
		return l.Item == f.Item && slices.Contains(l.Accepts, item)
	})
}
