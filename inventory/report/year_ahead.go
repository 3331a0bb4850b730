package report

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// YearAhead says what the dates of a year will do to the bags, if nobody acts. It judges what is in the bags now on
// each day as every other reading of that day does: overdue checks count today, since a clock and not a date decides
// those.
type YearAhead struct {
	Bags  []BagYear
	All   int               // bags, where only the first of them were asked for
	Weeks []Week            // in four cases; none until they are computed
	At    inventory.Instant // when the weeks were computed
}

// BagYear is a year of one bag.
type BagYear struct {
	Bag, Station, Name string
	From, Until        inventory.Day // the days looked at, inclusive
	Spans              []Span        // the states in order, from From to Until
	Ends               []EndInBag    // the governing dates in that time, earliest first
	StopsOn            inventory.Day // the first day after today on which it must not go out, 0 for none
	StopLot            int64         // the lot that causes it
}

// Span is a time in which a bag's state stays the same.
type Span struct {
	From, Until inventory.Day // inclusive
	State       inventory.State
}

// EndInBag is a governing date of a lot in a bag.
type EndInBag struct {
	On        inventory.Day // the last usable day
	Item      string
	LotID     int64
	BatchNo   string
	Serial    string
	Qty       int
	After     inventory.State // the bag's state on the next day
	Governing inventory.EndRule
}

// YearDays is how far the year ahead reaches, in days.
const YearDays = 365

// YearAheadOf judges bags on each day on which one of their dates ends.
func YearAheadOf(views []inventory.BagView, now inventory.Instant) YearAhead {
	return yearAhead(views, now, 0)
}

// yearAhead judges only the first bags, where a number is given.
func yearAhead(views []inventory.BagView, now inventory.Instant, first int) YearAhead {
	type starting struct {
		BagYear
		view inventory.BagView
		now  bool // it must not go out already
	}
	var all []starting
	for _, v := range views {
		if v.Bag.Retired() {
			continue
		}
		today := v.Station.Today(now)
		y := BagYear{Bag: v.Bag.Code, Station: v.Bag.AtStation, Name: v.Bag.Name, From: today,
			Until: today.AddDays(YearDays - 1)}
		r := inventory.ReadinessOf(v, now, today, YearDays)
		if r.FirstStop != nil && r.FirstStop.Date <= y.Until {
			y.StopsOn, y.StopLot = r.FirstStop.Date, r.FirstStop.LotID
		}
		all = append(all, starting{y, v, r.State == inventory.NotReady})
	}
	slices.SortStableFunc(all, func(a, b starting) int {
		return cmp.Or(-inventory.CompareBool(a.now, b.now), inventory.CompareEnd(a.StopsOn, b.StopsOn),
			cmp.Compare(a.Bag, b.Bag))
	})
	out := YearAhead{All: len(all)}
	for _, x := range all {
		if first == 0 || len(out.Bags) < first {
			x.judge(x.view, now)
			out.Bags = append(out.Bags, x.BagYear)
		}
	}
	return out
}

func (y *BagYear) judge(v inventory.BagView, now inventory.Instant) {
	y.addEnds(v)
	for _, day := range changeDays(v, y.From, y.Until) {
		y.span(day, stateOn(v, now, day))
	}
	for i := range y.Ends {
		y.Ends[i].After = stateOn(v, now, y.Ends[i].On.AddDays(1))
	}
	y.Spans[len(y.Spans)-1].Until = y.Until
}

// changeDays lists the first two days and each day on which a date can change the state: the day on which a lot comes
// to end soon, and the day after a lot, an inspection or the edition of the list ended.
func changeDays(v inventory.BagView, from, until inventory.Day) []inventory.Day {
	days := []inventory.Day{from, from.AddDays(1)}
	add := func(last inventory.Day) {
		if last >= from && last < until {
			days = append(days, last.AddDays(1))
		}
	}
	for _, part := range append([]inventory.BagView{v}, v.Modules...) {
		add(part.List.ValidTo)
		for _, k := range part.Versions {
			add(k.ValidFrom.AddDays(-1))
			add(k.ValidTo)
		}
		for _, st := range part.Stock {
			it := part.Items[st.Lot.Item]
			for _, end := range inventory.Ends(it, st.Lot, from) {
				add(end.On)
				add(end.On.AddDays(-inventory.DefaultHorizonDays - 1))
			}
			if due, ok := inventory.InspectionDue(it, st.Lot); ok {
				add(due)
			}
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// addEnds lists the governing dates of a bag and of its modules.
func (y *BagYear) addEnds(v inventory.BagView) {
	for _, part := range append([]inventory.BagView{v}, v.Modules...) {
		for _, st := range part.Stock {
			end, ok := inventory.Governing(part.Items[st.Lot.Item], st.Lot, y.From)
			if !ok || end.On < y.From || end.On > y.Until {
				continue
			}
			y.Ends = append(y.Ends, EndInBag{On: end.On, Item: st.Lot.Item, LotID: st.Lot.ID, BatchNo: st.Lot.BatchNo,
				Serial: st.Lot.Serial, Qty: st.Qty, Governing: end.Rule})
		}
	}
	slices.SortStableFunc(y.Ends, func(a, b EndInBag) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.LotID,
			b.LotID))
	})
}

// span begins a state on a day, where it is another one than before.
func (y *BagYear) span(day inventory.Day, state inventory.State) {
	n := len(y.Spans)
	switch {
	case n == 0:
	case y.Spans[n-1].State == state:
		return
	default:
		y.Spans[n-1].Until = day.AddDays(-1)
	}
	y.Spans = append(y.Spans, Span{From: day, State: state})
}

// stateOn is a bag's state on a day, as the report of that day says it.
func stateOn(v inventory.BagView, now inventory.Instant, day inventory.Day) inventory.State {
	return inventory.ReadinessOf(v, now, day, inventory.DefaultHorizonDays).State
}

// YearAsk narrows a year ahead. Empty fields do not narrow.
type YearAsk struct {
	Stations []string
	Down     inventory.Day // only bags that must not go out on this day if nobody acts
	First    int           // only so many bags
	Weeks    bool          // also the four cases
}

// YearAhead tells what the dates of the next YearDays will do to the bags for issue at the actor's stations, or at
// some of them: those that must not go out already first, then by the day on which they must not, then by code.
// Refuses: Forbidden without report, and for a station that is not the actor's; NotFound for a station.
func (s *Service) YearAhead(ctx context.Context, by inventory.Actor, ask YearAsk) (YearAhead, error) {
	var seen []string
	today := inventory.Day(0)
	out, err := inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) (_ YearAhead, err error) {
		if seen, err = scope.Narrowed(by, r, ask.Stations); err != nil {
			return YearAhead{}, err
		}
		g, err := lists.LoadReportInput(r, inventory.ForIssue, nil)
		if err != nil {
			return YearAhead{}, err
		}
		views := slices.DeleteFunc(slices.Clone(g.Bags), func(v inventory.BagView) bool {
			return v.Bag.Inside != "" || len(seen) > 0 && !slices.Contains(seen, v.Bag.AtStation) || // modules: with their bag
				ask.Down != 0 && inventory.GlanceAt(v, ask.Down).MayGoOut
		})
		out := yearAhead(views, s.now(), ask.First)
		if !ask.Weeks {
			return out, nil
		}
		for _, st := range g.Stations {
			today = max(today, st.Today(s.now()))
		}
		return out, s.beginYear(r, g, today, s.now())
	})
	if err != nil || !ask.Weeks {
		return out, err
	}
	if o := s.years.wait(ctx, today); o != nil {
		out.Weeks, out.At = o.Weeks(seen), o.At
	}
	return out, nil
}
