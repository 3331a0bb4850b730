package report

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// mostStops is of how many bags a report says when they stop.
const mostStops = 1000

// Shortages makes the shortage report for the actor's stations, or for some, in units. That of today is made from what
// is kept of the bags, any other from the bags. Refuses: Forbidden without report, and for a station that is not the
// actor's; NotFound for a station.
func (s *Service) Shortages(ctx context.Context, by inventory.Actor, stations []string,
	ask lists.Outlook) (inventory.Shortages, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) (inventory.Shortages, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return inventory.Shortages{}, err
		}
		now := s.now()
		var g inventory.ReportInput
		var rep inventory.Shortages
		if ask.AsOf == 0 && ask.Days() == inventory.DefaultHorizonDays {
			rep, err = todays(r, now, seen)
		} else if g, err = lists.LoadReportInput(r, inventory.ForIssue, nil); err == nil { // with the needs of every station
			rep = inventory.ShortagesOf(g, now, ask.AsOf, ask.Days())
		}
		rep = rep.Only(g, seen, now)
		rep.FirstStops = rep.FirstStops[:min(len(rep.FirstStops), mostStops)]
		return rep, err
	})
}

// todays makes the report of today from what is kept of the bags, and judges those of which nothing is kept that holds.
func todays(r inventory.Reader, now inventory.Instant, seen []string) (inventory.Shortages, error) {
	t := today{r: r, now: now}
	for _, step := range []func() error{t.judge, t.recall, t.offerModules, t.loadStores} {
		if err := step(); err != nil {
			return inventory.Shortages{}, err
		}
	}
	counts, errCounts := r.KeptCounts(now, inventory.ForIssue)
	stops, errStops := r.KeptStops(now, inventory.ForIssue, seen, mostStops)
	m := inventory.NewReportMaking(t.ReportInput, now, 0, inventory.DefaultHorizonDays)
	slices.SortFunc(t.bags, func(a, b judgedBag) int { return cmp.Compare(a.Bag.Code, b.Bag.Code) })
	for i, b := range t.bags {
		if b.kept {
			m.Lacks(&t.bags[i].BagView, b.Judged)
		} else {
			m.Judged(&t.bags[i].BagView, b.Judged)
		}
	}
	for station, n := range counts {
		m.Counts(station, n)
	}
	m.Stops(stops...)
	return m.Shortages(), cmp.Or(errCounts, errStops)
}

// today is the making of today's report.
type today struct {
	inventory.ReportInput
	r    inventory.Reader
	now  inventory.Instant
	bags []judgedBag
}

// judgedBag is a bag that was judged now, or is known by what is kept of it and its record.
type judgedBag struct {
	inventory.BagView
	inventory.Judged
	kept bool
}

// manyBags is from how many bags on all are read, rather than some by name.
const manyBags = 500

// judge judges the bags of which nothing is kept that holds.
func (t *today) judge() error {
	codes, err := t.r.ToJudge(t.now, 0)
	if err != nil || len(codes) == 0 {
		return err
	}
	f := inventory.BagFilter{Purpose: inventory.ForIssue}
	var views []inventory.BagView
	if len(codes) > manyBags {
		views, err = lists.LoadBags(t.r, f, inventory.Page{})
	} else {
		f.Codes = codes
		var bags []inventory.Bag
		if bags, err = t.r.Bags(f, inventory.Page{}); err == nil {
			views, err = lists.LoadNamed(t.r, bags)
		}
	}
	for _, v := range views {
		if _, asked := slices.BinarySearch(codes, v.Bag.Code); asked {
			j, _ := inventory.Judge(v, t.now, 0, inventory.DefaultHorizonDays)
			t.bags = append(t.bags, judgedBag{v, j, false})
		}
	}
	return err
}

// recall reads what is kept of bags that lack something.
func (t *today) recall() error {
	kept, err := t.r.KeptOf(t.now, true)
	if err != nil {
		return err
	}
	return t.add(kept, inventory.BagFilter{})
}

// add adds bags of issue by what is kept of them, where they are not there yet.
func (t *today) add(kept []inventory.Kept, f inventory.BagFilter) error {
	of := map[string]inventory.Judged{}
	for _, k := range kept {
		if k.Purpose == inventory.ForIssue {
			of[k.Bag] = k.Judged
		}
		if f.KitList == "" {
			f.Codes = append(f.Codes, k.Bag)
		}
	}
	for _, b := range t.bags {
		delete(of, b.Bag.Code)
	}
	if len(of) == 0 {
		return nil
	}
	views, err := lists.LoadRecords(t.r, f)
	for _, v := range views {
		if j, ok := of[v.Bag.Code]; ok {
			t.bags = append(t.bags, judgedBag{v, j, true})
		}
	}
	return err
}

// offerModules adds the modules that may go where one is missing.
func (t *today) offerModules() error {
	wanted := map[string]bool{}
	for _, b := range t.bags {
		for _, m := range b.Gaps {
			wanted[m.KitList] = true
		}
	}
	if len(wanted) == 0 {
		return nil
	}
	kept, err := t.r.KeptOf(t.now, false)
	for list := range wanted {
		if err == nil {
			err = t.add(kept, inventory.BagFilter{KitList: list})
		}
	}
	return err
}

// loadStores reads what the stores hold of the items that are lacked, or are accepted in their place.
func (t *today) loadStores() error {
	wanted := map[string]bool{}
	for _, b := range t.bags {
		next := b.OnNewest(b.Station.Today(t.now))
		for _, l := range b.Lacks {
			line := next.List.Lines[l.Line]
			for _, item := range append([]string{line.Item}, line.Accepts...) {
				wanted[item] = true
			}
		}
	}
	var err error
	t.ReportInput, err = lists.StoresWith(t.r, inventory.ForIssue, wanted)
	return err
}

// Keep judges some bags of which nothing is kept that holds, and keeps what it finds; it returns how many they were.
// It never refuses. Others that touch bags wait for it, and it for them.
func (s *Service) Keep(ctx context.Context, most int) (n int, err error) {
	now := s.now()
	waiting, err := inventory.Read(ctx, s.store, func(r inventory.Reader) ([]string, error) { return r.ToJudge(now, 1) })
	if err != nil || len(waiting) == 0 {
		return 0, err
	}
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (int, error) {
		if err := w.LockKept(); err != nil {
			return 0, err
		}
		codes, err := w.ToJudge(now, most)
		if err != nil || len(codes) == 0 {
			return 0, err
		}
		bags, err := w.Bags(inventory.BagFilter{Codes: codes, Retired: true}, inventory.Page{})
		if err != nil {
			return 0, err
		}
		views, err := lists.LoadNamed(w, bags)
		kept := make([]inventory.Kept, 0, len(views))
		for _, v := range views {
			kept = append(kept, inventory.Keep(v, now))
		}
		if err == nil {
			err = w.PutKept(kept)
		}
		return len(kept), err
	})
}
