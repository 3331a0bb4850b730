package inventory

import "slices"

// Glance is what whoever lives through many days needs to know of a bag on one of them: what ReadinessOf and the fill
// plan say, in a fraction of their time, since nothing is put into words.
type Glance struct {
	MayGoOut bool
	Lacks    []Demand // by the newest list that is in force
	Next     Day      // the first day after it on which a date can change either, 0 for none
}

// GlanceAt looks at a bag on a day.
func GlanceAt(v BagView, day Day) Glance {
	if v.Bag.Retired() {
		return Glance{}
	}
	g := Glance{}
	s := newContents(v, day)
	g.MayGoOut = v.Bag.OutOfService == nil && !s.stopped(day)
	next := v.OnNewest(day)
	a := (&contents{view: next, through: s.through, fit: s.fit, apart: s.apart, byItem: s.byItem}).allocate(day)
	for i, l := range next.List.Lines {
		par, minimum := l.Wanted()
		got, covered := 0, 0
		for _, p := range a.lines[i] {
			if got += p.qty; v.Stock[p.row].Lot.Item != l.Item {
				covered += p.qty
			}
		}
		if par > got || covered > 0 {
			g.Lacks = append(g.Lacks, Demand{bag: &next, line: i, toMin: max(0, minimum-got), toPar: max(0, par-got),
				covered: covered, station: v.Bag.AtStation})
		}
	}
	g.Next = s.nextDay(day)
	return g
}

// stopped tells whether any finding stops the bag.
func (s *contents) stopped(day Day) bool {
	for _, st := range s.view.Stock {
		if len(st.Lot.Withdrawn) > 0 {
			return true
		}
	}
	if _, stops := s.firstStopFinding(day); stops || len(missingModules(s.view)) > 0 {
		return true
	}
	for i, m := range s.modules {
		if s.view.Modules[i].Bag.Retired() || s.view.Modules[i].Bag.OutOfService != nil || m.stopped(day) {
			return true
		}
	}
	findings := slices.Concat(observationFindings(s.view), sealFindings(s.view), s.registerFindings())
	if len(s.reports) > 0 {
		findings = append(findings, s.reportFindings(s.allocate(day), day)...)
	}
	return slices.ContainsFunc(findings, func(f Finding) bool { return f.Severity == SeverityStop })
}

// nextDay is the first day after one on which units end, here or in a module, or another version of a list counts.
func (s *contents) nextDay(day Day) (next Day) {
	add := func(on Day) {
		if on > day && (next == 0 || on < next) {
			next = on
		}
	}
	for row, through := range s.through {
		if through != 0 && s.view.Stock[row].Qty > 0 {
			add(through.AddDays(1))
		}
	}
	for _, k := range s.view.Versions {
		add(k.ValidFrom)
		if k.ValidTo != 0 {
			add(k.ValidTo.AddDays(1))
		}
	}
	for _, m := range s.modules {
		if on := m.nextDay(day); on != 0 {
			add(on)
		}
	}
	return next
}

// PlanOf fills demands, as ShortagesOf does, from what the stores hold on a day, and says what is to be bought.
// Demands stay as they are.
func PlanOf(g ReportInput, lacks []Demand, day Day) ([]Fill, []Buy) {
	plan := newFillPlan(g)
	wanted := map[string]bool{}
	for _, d := range lacks {
		line := d.bag.List.Lines[d.line]
		d.on, d.lastsTo = day, day.AddDays(d.bag.List.MinRemainingDays)
		plan.demands = append(plan.demands, &d)
		for wanted[line.Item] = true; len(line.Accepts) > 0; line.Accepts = line.Accepts[1:] {
			wanted[line.Accepts[0]] = true
		}
	}
	if len(lacks) == 0 {
		return nil, nil
	}
	stores := map[string][]Stock{}
	for _, st := range g.Stores {
		if st.Qty > 0 && wanted[st.Lot.Item] {
			stores[g.StationOf[st.Place]] = append(stores[g.StationOf[st.Place]], st)
		}
	}
	for _, s := range g.Stations {
		plan.shelves[s.Code] = newStoreContents(stores[s.Code], g.Items, day, ForIssue)
	}
	fills := plan.run()
	return fills, plan.buys()
}
