package inventory

import (
	"context"
	"slices"
	"time"
)

// Readiness judges one bag.
func (s *Service) Readiness(ctx context.Context, by Actor, code string, ask Ask) (Readiness, error) {
	return read(ctx, s, func(r Reader) (Readiness, error) {
		b, err := bagFor(r, by, code, ActSee)
		if err != nil {
			return Readiness{}, err
		}
		v, err := viewOf(r, b)
		if err != nil {
			return Readiness{}, err
		}
		return ReadinessOf(v, s.Now(), ask.AsOf, ask.horizon()), nil
	})
}

// Checklist is what the page behind a bag's label shows.
type Checklist struct {
	Bag        Bag             `json:"bag"`
	Site       Site            `json:"site"`
	KitList    KitList         `json:"kit_list"`
	Readiness  Readiness       `json:"readiness"`
	Items      map[string]Item `json:"items"`
	Pouches    []Pouch         `json:"pouches"`
	EndsBefore []LotOnLine     `json:"ends_before_next_check,omitempty" doc:"What ends before the next check is due"`
	NextCheck  Instant         `json:"next_check,omitempty" format:"date-time" doc:"When the next check is due"`
	Open       []Observation   `json:"observations,omitempty"`
	Modules    []ModuleState   `json:"modules,omitempty" doc:"Each module as one line"`
}

// Pouch groups lines of a checklist in the order of the list.
type Pouch struct {
	Name  string      `json:"name"`
	Lines []LineState `json:"lines"`
}

// Checklist returns what the page behind a bag's label shows.
func (s *Service) Checklist(ctx context.Context, by Actor, code string, ask Ask) (Checklist, error) {
	return read(ctx, s, func(r Reader) (Checklist, error) {
		b, err := bagFor(r, by, code, ActSee)
		if err != nil {
			return Checklist{}, err
		}
		v, err := viewOf(r, b)
		if err != nil {
			return Checklist{}, err
		}
		return ChecklistOf(v, s.Now(), ask.AsOf, ask.horizon()), nil
	})
}

// ChecklistOf arranges a judged bag by pouches and lists what ends before the
// next check is due: a seal check never hides a date.
func ChecklistOf(v BagView, now Instant, asOf Day, horizon int) Checklist {
	r := ReadinessOf(v, now, asOf, horizon)
	c := Checklist{Bag: v.Bag, Site: v.Site, KitList: v.List, Readiness: r, Items: v.Items, Open: v.Observations, Pouches: []Pouch{}, Modules: r.Modules}
	for _, l := range r.Lines {
		i := slices.IndexFunc(c.Pouches, func(p Pouch) bool { return p.Name == l.Pouch })
		if i < 0 {
			c.Pouches = append(c.Pouches, Pouch{Name: l.Pouch})
			i = len(c.Pouches) - 1
		}
		c.Pouches[i].Lines = append(c.Pouches[i].Lines, l)
	}
	if !v.Bag.Retired() {
		c.NextCheck = nextCheck(v, now.Add(time.Duration(r.AsOf-v.Site.Today(now))*24*time.Hour))
	}
	if c.NextCheck != 0 {
		c.EndsBefore = endsBefore(r, v.Site.Today(c.NextCheck))
	}
	return c
}

// nextCheck returns when the next check will be due if one is made now.
func nextCheck(v BagView, now Instant) Instant {
	v.Bag.LastFullCheck, v.Bag.SealSeenAt = now, now
	full, fullDue := FullCheckDue(v)
	seal, sealDue := SealCheckDue(v)
	zone, err := Zone(v.Site.Timezone)
	if fullDue && err == nil {
		if end := full.AddDays(1).Start(zone); !sealDue || end < seal {
			return end
		}
	}
	return seal
}

// endsBefore lists the usable lots on lines whose last usable day lies before
// a day.
func endsBefore(r Readiness, day Day) []LotOnLine {
	var out []LotOnLine
	for _, l := range r.Lines {
		for _, lot := range l.Lots {
			if lot.Usable && lot.UsableThrough != 0 && lot.UsableThrough < day {
				out = append(out, lot)
			}
		}
	}
	return out
}

// BagSummary is one bag on the board of a site.
type BagSummary struct {
	Bag
	State    State  `json:"state" enum:"ready,ready_with_gaps,not_ready,taken_off"`
	Headline string `json:"headline" doc:"What is true in a few words"`
	Stops    int    `json:"stops"`
	Warnings int    `json:"warnings"`

	Kinds []FindingKind `json:"kinds,omitempty" doc:"The kinds of finding, each once, the heaviest first"`
	Strip Strip         `json:"-"`
}

// BagList lists bags with their states.
func (s *Service) BagList(ctx context.Context, by Actor, f BagFilter, p Page, ask Ask) ([]BagSummary, error) {
	return read(ctx, s, func(r Reader) ([]BagSummary, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrowed(r, f.AtSites)
		if err != nil {
			return nil, err
		}
		f.AtSites = sites
		if err := f.exists(r); err != nil {
			return nil, err
		}
		items, err := itemsByCode(r, ItemFilter{})
		if err != nil {
			return nil, err
		}
		views, err := viewsOf(r, f, p, items)
		out := make([]BagSummary, 0, len(views))
		for _, v := range views {
			out = append(out, summaryOf(v, s.Now(), ask))
		}
		return out, err
	})
}

func summaryOf(v BagView, now Instant, ask Ask) BagSummary {
	r := ReadinessOf(v, now, ask.AsOf, ask.horizon())
	b := BagSummary{Bag: v.Bag, State: r.State, Headline: Headline(v.Bag, r), Strip: r.Strip()}
	for _, f := range r.Findings {
		if f.Severity == SeverityStop {
			b.Stops++
		} else {
			b.Warnings++
		}
		if !slices.Contains(b.Kinds, f.Kind) {
			b.Kinds = append(b.Kinds, f.Kind)
		}
	}
	return b
}

const mustNotGo = "Must not go out: "

// Headline says in a few words whether a bag may go out, and the first reason.
// A training bag never goes out to a patient, so it is never said to.
func Headline(b Bag, r Readiness) string {
	switch {
	case b.Retired() && b.Successor != "":
		return "Retired: use " + b.Successor + " instead"
	case b.Retired():
		return "Retired: out of service"
	case r.State == OffTheRun:
		return "Taken off: " + b.TakenOff.Reason
	case b.Purpose == ForTraining:
		return trainingHeadline(r)
	case r.State == NotReady:
		return mustNotGo + r.Findings[0].Text
	case r.State == ReadyWithGaps:
		return "May go out, " + plural(len(r.Findings), "gap")
	}
	return "May go out"
}

func trainingHeadline(r Readiness) string {
	switch r.State {
	case NotReady:
		return "Not ready for training: " + r.Findings[0].Text
	case ReadyWithGaps:
		return "Ready for training, " + plural(len(r.Findings), "gap")
	}
	return "Ready for training"
}

// Shortages makes the shortage report for the actor's sites, or for some.
func (s *Service) Shortages(ctx context.Context, by Actor, sites []string, ask Ask) (Shortages, error) {
	return read(ctx, s, func(r Reader) (Shortages, error) {
		if err := by.must(ActReport, ""); err != nil {
			return Shortages{}, err
		}
		seen, err := by.narrowed(r, sites)
		if err != nil {
			return Shortages{}, err
		}
		g, err := regionOf(r) // the plan needs the needs of every site
		if err != nil {
			return Shortages{}, err
		}
		rep := ShortagesOf(g, s.Now(), ask.AsOf, ask.horizon())
		return rep.only(g, seen, s.Now()), nil
	})
}

// only narrows a report to some sites; none means all.
func (rep Shortages) only(g Region, sites []string, now Instant) Shortages {
	if len(sites) == 0 {
		return rep
	}
	siteOf := map[string]string{}
	hidden := func(site string) bool { return !slices.Contains(sites, site) }
	rep.ClockLeft = false
	for _, v := range g.Bags {
		siteOf[v.Bag.Code] = v.Bag.AtSite
		rep.ClockLeft = rep.ClockLeft || !hidden(v.Bag.AtSite) && rep.AsOf != 0 && rep.AsOf != v.Site.Today(now)
	}
	rep.Rows = slices.DeleteFunc(rep.Rows, func(x ShortageRow) bool { return hidden(x.Site) })
	rep.Fill = slices.DeleteFunc(rep.Fill, func(x Fill) bool { return hidden(siteOf[x.Bag]) })
	rep.Buy = slices.DeleteFunc(rep.Buy, func(x Buy) bool { return hidden(x.Site) })
	rep.FirstStops = slices.DeleteFunc(rep.FirstStops, func(x FirstStop) bool { return hidden(siteOf[x.Bag]) })
	rep.States = slices.DeleteFunc(rep.States, func(x BagState) bool { return hidden(x.Site) })
	rep.Bags = BagCounts{}
	for _, st := range rep.States {
		rep.Bags.count(st.State)
	}
	return rep
}

// PickList makes the pick list of a bag.
func (s *Service) PickList(ctx context.Context, by Actor, code string, ask Ask) (PickList, error) {
	return read(ctx, s, func(r Reader) (PickList, error) {
		b, err := bagFor(r, by, code, ActKeepStock)
		if err != nil {
			return PickList{}, err
		}
		v, err := viewOf(r, b)
		if err != nil {
			return PickList{}, err
		}
		g, err := regionOf(r)
		if err != nil {
			return PickList{}, err
		}
		v.Items = g.Items
		now := s.Now()
		stores, claims := g.storesBySite()[b.AtSite], []Fill(nil)
		if b.Purpose == ForIssue {
			claims = ShortagesOf(g, now, ask.AsOf, 0).Fill
		} else if stores, err = r.Stock(StockFilter{Kinds: []PlaceKind{KindStore}, Purpose: ForTraining, Sites: []string{b.AtSite}}); err != nil {
			return PickList{}, err
		}
		return PickListOf(v, stores, claims, now, ask.AsOf), nil
	})
}
