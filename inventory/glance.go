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
		got, covered := 0, 0
		for _, p := range a.lines[i] {
			if got += p.qty; v.Stock[p.row].Lot.Item != l.Item {
				covered += p.qty
			}
		}
		if d, lacks := demandOf(&next, i, got, covered); lacks {
			g.Lacks = append(g.Lacks, d)
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
	if len(lacks) == 0 {
		return nil, nil
	}
	wanted, demands := map[string]bool{}, []*Demand{}
	for _, d := range lacks {
		line := d.bag.List.Lines[d.line]
		demands = append(demands, d.askedOn(day))
		for _, item := range append([]string{line.Item}, line.Accepts...) {
			wanted[item] = true
		}
	}
	var stores []Stock
	for _, st := range g.Stores {
		if st.Qty > 0 && wanted[st.Lot.Item] {
			stores = append(stores, st)
		}
	}
	g.Stores = stores
	plan := newFillPlan(g, func(Station) Day { return day })
	plan.demands = demands
	fills := plan.run()
	return fills, plan.buys()
}
