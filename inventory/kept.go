package inventory

import "slices"

// Judged is what a bag, judged for a day, adds to the shortage report.
type Judged struct {
	State     State         `json:"state"`
	Rows      []ShortageRow `json:"rows,omitempty"`
	FirstStop *Change       `json:"first_stop,omitempty"`
	Lacks     []Lack        `json:"lacks,omitempty"` // by the newest version of its list that is in force
	Gaps      []Module      `json:"gaps,omitempty"`  // modules that the newest wants and that are not in it
	Holds     bool          `json:"holds,omitempty"` // modules
}

// Lack is what one line of a list lacks.
type Lack struct {
	Line    int `json:"line"`
	ToMin   int `json:"to_min,omitempty"`  // units missing to the minimum
	ToPar   int `json:"to_par,omitempty"`  // units missing to par, those included
	Covered int `json:"covered,omitempty"` // units of other items that count for the line
}

// Judge judges a bag as the report does.
func Judge(v BagView, now Instant, asOf Day, horizon int) (Judged, Readiness) {
	r := ReadinessOf(v, now, asOf, horizon)
	j := Judged{State: r.State, FirstStop: r.FirstStop, Holds: len(v.Modules) > 0}
	for _, l := range r.Lines {
		if l.Shortfall > 0 {
			j.Rows = append(j.Rows, ShortageRow{v.Bag.AtStation, v.Bag.Code, l.Item, "", l.Pouch, l.Par, l.Minimum,
				l.Usable, l.Shortfall, l.Usable < l.Minimum, l.Critical})
		}
	}
	for _, m := range missingModules(v) {
		j.Rows = append(j.Rows, ShortageRow{Station: v.Bag.AtStation, Bag: v.Bag.Code, KitList: m.KitList, Par: m.Count,
			Minimum: m.Count, Usable: m.Count - m.missing, Shortfall: m.missing, BelowMinimum: true})
	}
	next, restocked := v.OnNewest(r.AsOf), r
	if next.List.Version != v.List.Version {
		restocked = ReadinessOf(next, now, asOf, horizon)
	}
	j.Lacks = lacksOf(&next, restocked)
	for _, m := range missingModules(next) {
		j.Gaps = append(j.Gaps, Module{KitList: m.KitList, Count: m.missing})
	}
	return j, r
}

// Says tells whether a report has anything to say of a bag, but for its state and its first stop.
func (j Judged) Says() bool { return len(j.Rows)+len(j.Lacks)+len(j.Gaps) > 0 }

// Kept is what a bag was last judged to be, for its station's today and the horizon of whoever names none. It holds
// until something that it rests on is recorded, or until an instant.
type Kept struct {
	Bag, AtStation string
	Seal, Inside   string  // no seal for none on it
	Purpose        Purpose // empty for a retired bag
	At, Until      Instant // when it was judged, and the first instant at which it may be another without any record
	Judged
}

// Keep judges a bag to keep what was found.
func Keep(v BagView, now Instant) Kept {
	j, _ := Judge(v, now, 0, DefaultHorizonDays)
	k := Kept{Bag: v.Bag.Code, AtStation: v.Bag.AtStation, Purpose: v.Bag.Purpose, Inside: v.Bag.Inside, At: now,
		Judged: j}
	if v.Bag.Retired() {
		k.Purpose = ""
	}
	if v.Bag.SealState != SealNone {
		k.Seal = FoldSeal(v.Bag.Seal)
	}
	zone, err := Zone(v.Station.Timezone)
	if err != nil {
		return k // it holds for this moment
	}
	day := v.Station.Today(now)
	k.Until = newContents(v, day).nextTurn(day, DefaultHorizonDays).Start(zone)
	for _, part := range append([]BagView{v}, v.Modules...) {
		if due, ok := FullCheckDue(part); ok && due != 0 && due >= day {
			k.Until = min(k.Until, due.AddDays(1).Start(zone))
		}
		if due, ok := SealCheckDue(part); ok && due >= now {
			k.Until = min(k.Until, due+1)
		}
	}
	return k
}

// nextTurn is the first day after one on which dates alone can change what is found, here or in a module, within a
// hundred years.
func (s *contents) nextTurn(day Day, horizon int) Day {
	next := []Day{s.nextDay(day)}
	for row, through := range s.through {
		l, it := s.view.Stock[row].Lot, s.view.Items[s.view.Stock[row].Lot.Item]
		if through != 0 {
			next = append(next, through.AddDays(-horizon))
		}
		if from, ok := overdueFrom(it, l); ok {
			next = append(next, from)
		}
		if UsableThrough(it, l, day.AddDays(1)) != through { // its clock runs
			next = append(next, day.AddDays(1))
		}
	}
	for _, m := range s.modules {
		next = append(next, m.nextTurn(day, horizon))
	}
	next = append(slices.DeleteFunc(next, func(d Day) bool { return d <= day }), day.AddDays(100*366))
	return slices.Min(next)
}
