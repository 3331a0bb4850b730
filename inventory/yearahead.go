package inventory

import (
	"cmp"
	"context"
	"slices"
)

// YearAhead says what the dates of a year will do to the bags, if nobody acts.
// It judges what is in the bags now by contents and dates, and leaves overdue
// checks out, since a clock and not a date decides those.
type YearAhead struct {
	Bags []BagYear
}

// BagYear is a year of one bag.
type BagYear struct {
	Bag, Site, Name string
	From, Until     Day        // the days looked at, inclusive
	Spans           []Span     // the states in order, from From to Until
	Ends            []EndInBag // the governing dates in that time, earliest first
	StopsOn         Day        // the first day after today on which it must not go out, 0 for none
	StopLot         int64      // the lot that causes it
}

// Span is a time in which a bag's state stays the same.
type Span struct {
	From, Until Day // inclusive
	State       State
}

// EndInBag is a governing date of a lot in a bag.
type EndInBag struct {
	On        Day // the last usable day
	Item      string
	LotID     int64
	LotNo     string
	Serial    string
	Qty       int
	After     State // the bag's state on the next day
	Governing EndRule
}

// YearDays is how far the year ahead reaches, in days.
const YearDays = 365

// YearAheadOf judges bags on each day on which one of their dates ends.
func YearAheadOf(views []BagView, now Instant) YearAhead {
	var out YearAhead
	for _, v := range views {
		if !v.Bag.Retired() {
			out.Bags = append(out.Bags, bagYear(v, now))
		}
	}
	slices.SortStableFunc(out.Bags, func(a, b BagYear) int {
		return cmp.Or(compareStart(a, b), compareEnd(a.StopsOn, b.StopsOn), cmp.Compare(a.Bag, b.Bag))
	})
	return out
}

// compareStart puts the bags first that must not go out already.
func compareStart(a, b BagYear) int {
	return -compareBool(a.Spans[0].State == NotReady, b.Spans[0].State == NotReady)
}

func bagYear(v BagView, now Instant) BagYear {
	today := v.Site.Today(now)
	y := BagYear{Bag: v.Bag.Code, Site: v.Bag.AtSite, Name: v.Bag.Name, From: today, Until: today.AddDays(YearDays - 1)}
	y.addEnds(v)
	if r := ReadinessOf(v, now, today, YearDays); r.FirstStop != nil && r.FirstStop.Date <= y.Until {
		y.StopsOn, y.StopLot = r.FirstStop.Date, r.FirstStop.LotID
	}
	for _, day := range changeDays(v, y.From, y.Until) {
		y.span(day, stateByDates(v, now, day))
	}
	for i := range y.Ends {
		y.Ends[i].After = stateByDates(v, now, y.Ends[i].On.AddDays(1))
	}
	y.Spans[len(y.Spans)-1].Until = y.Until
	return y
}

// changeDays lists the first day and each day on which a date can change the
// state: the day after a lot, an inspection or the edition of the list ended.
func changeDays(v BagView, from, until Day) []Day {
	days := []Day{from}
	add := func(last Day) {
		if last >= from && last < until {
			days = append(days, last.AddDays(1))
		}
	}
	for _, part := range append([]BagView{v}, v.Modules...) {
		add(part.List.ValidTo)
		for _, st := range part.Stock {
			it := part.Items[st.Lot.Item]
			for _, end := range Ends(it, st.Lot, from) {
				add(end.On)
			}
			if due, ok := InspectionDue(it, st.Lot); ok {
				add(due)
			}
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// addEnds lists the governing dates of a bag and of its modules.
func (y *BagYear) addEnds(v BagView) {
	for _, part := range append([]BagView{v}, v.Modules...) {
		for _, st := range part.Stock {
			end, ok := Governing(part.Items[st.Lot.Item], st.Lot, y.From)
			if !ok || end.On < y.From || end.On > y.Until {
				continue
			}
			y.Ends = append(y.Ends, EndInBag{On: end.On, Item: st.Lot.Item, LotID: st.Lot.ID, LotNo: st.Lot.LotNo, Serial: st.Lot.Serial, Qty: st.Qty, Governing: end.Rule})
		}
	}
	slices.SortStableFunc(y.Ends, func(a, b EndInBag) int { return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.LotID, b.LotID)) })
}

// span begins a state on a day, where it is another one than before.
func (y *BagYear) span(day Day, state State) {
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

// notByDate lists the findings that the year ahead leaves out.
var notByDate = []FindingKind{FindFullCheckDue, FindSealCheckDue, FindEndsSoon}

// stateByDates is a bag's state on a day by contents and dates alone. What ends
// soon is no gap yet.
func stateByDates(v BagView, now Instant, day Day) State {
	r := ReadinessOf(v, now, day, 0)
	r.Findings = slices.DeleteFunc(r.Findings, func(f Finding) bool { return slices.Contains(notByDate, f.Kind) })
	return stateOf(v.Bag, r.Findings)
}

// YearAhead tells what the dates of the next year will do to the bags for
// issue at the actor's sites, or at some of them.
func (s *Service) YearAhead(ctx context.Context, by Actor, sites []string) (YearAhead, error) {
	return read(ctx, s, func(r Reader) (YearAhead, error) {
		if err := by.must(ActReport, ""); err != nil {
			return YearAhead{}, err
		}
		seen, err := by.narrowed(r, sites)
		if err != nil {
			return YearAhead{}, err
		}
		items, err := itemsByCode(r, ItemFilter{})
		if err != nil {
			return YearAhead{}, err
		}
		views, err := viewsOf(r, BagFilter{AtSites: seen, Purpose: ForIssue}, Page{}, items)
		if err != nil {
			return YearAhead{}, err
		}
		views = slices.DeleteFunc(views, func(v BagView) bool { return v.Bag.Inside != "" }) // with their bag
		return YearAheadOf(views, s.Now()), nil
	})
}
