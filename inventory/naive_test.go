package inventory_test

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

const endless = inventory.Day(math.MaxInt32)

func civil(d inventory.Day) time.Time {
	return time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(d)-1)
}

func dayNumber(year, month, dayOfMonth int) inventory.Day {
	t := time.Date(year, time.Month(month), dayOfMonth, 0, 0, 0, 0, time.UTC)
	// 2000-01-01 is day 730120
	return inventory.Day(t.Sub(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))/(24*time.Hour)) + 730120
}

func naiveAddMonths(d inventory.Day, n int) inventory.Day {
	t := civil(d)
	year, month := t.Year(), int(t.Month())
	for range n {
		if month++; month == 13 {
			year, month = year+1, 1
		}
	}
	return dayNumber(year, month, min(t.Day(), lengthOfMonth(year, month)))
}

// naiveZones are read once, since reading one opens a file.
var naiveZones = func() map[string]*time.Location {
	zones := map[string]*time.Location{"UTC": time.UTC}
	for _, name := range inventorytest.WalkZones {
		loc, err := time.LoadLocation(name)
		if err != nil {
			panic(err)
		}
		zones[name] = loc
	}
	return zones
}()

func naiveToday(station inventory.Station, now inventory.Instant) inventory.Day {
	t := time.Unix(0, int64(now)*1000).In(naiveZones[station.Timezone])
	return dayNumber(t.Year(), int(t.Month()), t.Day())
}

// naivePrinted reads what is printed on a pack, by the table of wordings.
func naivePrinted(printed string, w inventory.Wording, medicine bool) inventory.Day {
	parts := strings.Split(printed, "-")
	number := func(i int) int { n, _ := strconv.Atoi(parts[i]); return n }
	year, month := number(0), number(1)
	if len(parts) == 3 {
		d := dayNumber(year, month, number(2))
		if w == "use_before" || w == "unstated" {
			d--
		}
		return d
	}
	firstOfMonth := dayNumber(year, month, 1)
	if w == "use_before" || w == "unstated" || w == "use_by" && medicine {
		return firstOfMonth - 1
	}
	return firstOfMonth + inventory.Day(lengthOfMonth(year, month)) - 1
}

// naiveEnd is the last usable day of a lot that does not ride exposed, and the
// rule that sets it.
func naiveEnd(it inventory.Item, l inventory.Lot) (inventory.Day, string) {
	end, rule := endless, ""
	earlier := func(d inventory.Day, r string) {
		if d < end {
			end, rule = d, r
		}
	}
	if l.EndPrinted != "" {
		earlier(naivePrinted(l.EndPrinted, l.EndWording, it.Category == "medicine" || it.Category == "pain relief"),
			"printed")
	}
	if it.Life.MadeMonths > 0 && l.MadeOn != 0 {
		earlier(naiveAddMonths(l.MadeOn, it.Life.MadeMonths), "made")
	}
	if it.Life.StowedMonths > 0 && l.StowedOn != 0 {
		earlier(naiveAddMonths(l.StowedOn, it.Life.StowedMonths), "stowed")
	}
	if over := l.ExposedDays - it.Life.ExposedDays; it.Life.ExposedDays > 0 && l.ExposedDays > 0 && over >= 0 {
		earlier(l.ExposedLast-inventory.Day(over), "exposed")
	}
	if it.Life.OpenedDays > 0 && l.OpenedOn != 0 {
		earlier(l.OpenedOn+inventory.Day(it.Life.OpenedDays), "opened")
	}
	return end, rule
}

// naiveUnit is one single unit in a bag or store.
type naiveUnit struct {
	lot      int64
	item     string
	place    string
	received inventory.Day
	end      inventory.Day
	fit      bool // its date apart
	gone     bool // a report under review says so
	spent    bool // it was carried as long as it may be: not picked
	line     int  // the line that it counts for, -1 for none
}

func naiveWorn(it inventory.Item, l inventory.Lot) bool {
	return it.Life.TrainingCycles != 0 && l.Cycles >= it.Life.TrainingCycles
}

// naiveInspection tells the day that an inspection is asked for by, and whether
// it is overdue: after that day, or from the day of a notice on.
func naiveInspection(it inventory.Item, l inventory.Lot, today inventory.Day) (due inventory.Day, overdue bool) {
	if l.Serial != "" && it.Life.InspectDays > 0 {
		last := l.ReceivedOn
		if l.InspectedOn > last {
			last = l.InspectedOn
		}
		due = last + inventory.Day(it.Life.InspectDays)
		overdue = today > due
	}
	if l.InspectBy != 0 {
		overdue = overdue || today >= l.InspectBy
		if due == 0 || l.InspectBy < due {
			due = l.InspectBy
		}
	}
	return due, overdue
}

func naiveUnits(stock []inventory.Stock, items map[string]inventory.Item, training bool) []naiveUnit {
	var units []naiveUnit
	for _, st := range stock {
		l := st.Lot
		end, _ := naiveEnd(items[l.Item], l)
		for range st.Qty {
			units = append(units, naiveUnit{lot: l.ID, item: l.Item, place: st.Place, received: l.ReceivedOn, end: end,
				spent: items[l.Item].Life.ExposedDays > 0 && l.ExposedDays >= items[l.Item].Life.ExposedDays,
				fit:   !l.Unidentified && l.Training == training && len(l.Withdrawn) == 0 && !naiveWorn(items[l.Item], l),
				line:  -1})
		}
	}
	return units
}

func naiveWanted(l inventory.Line) (par, minimum int) {
	if l.CarriedElsewhere != "" {
		return 0, 0
	}
	if l.PresenceOnly {
		return 1, 1
	}
	return l.Par, l.Minimum
}

// naiveAnswer is what can be compared of a judged bag.
type naiveAnswer struct {
	state    inventory.State
	findings []string
	lines    []string
	surplus  []string
	usable   []int
	missing  []int // to par
	standIns []int // units of another item in place of the line's own
	// ended holds the lots on the list that ended the day before.
	ended []int64
}

// naiveStill judges a bag on a day by everything but the clock.
func naiveStill(v inventory.BagView, today inventory.Day, horizon int) naiveAnswer {
	var a naiveAnswer
	units := naiveUnits(v.Stock, v.Items, v.Bag.Purpose == "training")
	counts := naiveReported(v, units)
	naiveAllocate(units, v.List.Lines, today)
	a.judgeLines(v, units)
	a.judgeReports(v, counts, today)
	a.judgeLots(v, units, today, horizon)
	a.judgeRules(v, units, today)
	if v.List.ValidTo != 0 && today > v.List.ValidTo {
		a.add("warn", "list_ended", "", 0, 0, v.List.ValidTo, "")
	}
	newest := v.List
	for _, k := range v.Versions {
		if k.Version > newest.Version && today >= k.ValidFrom && (k.ValidTo == 0 || k.ValidTo >= today) {
			newest = k
		}
	}
	if newest.Version != v.List.Version {
		a.add("warn", "list_superseded", "", 0, 0, newest.ValidFrom, "")
	}
	for _, o := range v.Observations {
		if o.Kind == "training_mark" || o.Kind == "failed_point" {
			a.add("stop", "observation", o.Item, o.LotID, 0, 0, "")
		}
	}
	for _, c := range v.Miscounts {
		off := c.Counted - c.Expected
		if off < 0 {
			off = -off
		}
		a.add("stop", "register_differs", c.Item, 0, off, 0, "")
	}
	owed := map[string]int{}
	for _, o := range v.Owed {
		owed[o.Item]++
	}
	for item, n := range owed {
		a.add("warn", "second_signature_owed", item, 0, n, 0, "")
	}
	if v.List.Sealed {
		switch {
		case v.Bag.SealState == "":
			a.add("warn", "no_seal", "", 0, 0, 0, "")
		case v.Bag.SealState != "intact" && v.List.SealWarns:
			a.add("warn", "seal", "", 0, 0, 0, "")
		case v.Bag.SealState != "intact":
			a.add("stop", "seal", "", 0, 0, 0, "")
		}
	}
	a.sum(v)
	return a
}

// withClock adds what the clock says.
func (a naiveAnswer) withClock(v inventory.BagView, now inventory.Instant) naiveAnswer {
	a.findings = slices.Clone(a.findings)
	if v.List.FullCheckDays > 0 {
		due := inventory.Day(0)
		if v.Bag.LastFullCheck != 0 {
			due = naiveToday(v.Station, v.Bag.LastFullCheck) + inventory.Day(v.List.FullCheckDays)
		}
		if naiveToday(v.Station, now) > due {
			a.add("warn", "full_check_overdue", "", 0, 0, due, "")
		}
	}
	if v.List.Sealed && v.List.SealCheckHours > 0 && v.Bag.SealState != "" {
		due := v.Bag.SealSeenAt + inventory.Instant(v.List.SealCheckHours)*3600*1000*1000
		if now > due {
			a.add("warn", "seal_check_overdue", "", 0, 0, naiveToday(v.Station, due), "")
		}
	}
	a.sum(v)
	return a
}

func (a *naiveAnswer) add(severity, kind, item string, lot int64, qty int, on inventory.Day, rule string) {
	date := ""
	if on != 0 {
		date = civil(on).Format(time.DateOnly)
	}
	a.findings = append(a.findings, fmt.Sprintf("%s %s %s %d %d %s %s", severity, kind, item, lot, qty, date, rule))
}

func (a *naiveAnswer) sum(v inventory.BagView) {
	sort.Strings(a.findings)
	switch {
	case v.Bag.OutOfService != nil:
		a.state = "out_of_service"
	case len(a.findings) == 0:
		a.state = "ready"
	case strings.HasPrefix(a.findings[0], "stop"): // sorts before warn
		a.state = "not_ready"
	default:
		a.state = "ready_with_gaps"
	}
}

// naiveAllocate gives each usable unit to at most one line.
func naiveAllocate(units []naiveUnit, lines []inventory.Line, today inventory.Day) {
	got := make([]int, len(lines))
	giveOne := func(line int, item string) bool {
		best := -1
		for i, u := range units {
			if u.item != item || !u.fit || u.gone || u.end < today || u.line >= 0 {
				continue
			}
			if best < 0 || u.end < units[best].end || u.end == units[best].end && u.lot < units[best].lot {
				best = i
			}
		}
		if best < 0 {
			return false
		}
		units[best].line = line
		got[line]++
		return true
	}
	for _, toPar := range []bool{false, true} {
		for _, accepted := range []bool{false, true} {
			for i, l := range lines {
				par, target := naiveWanted(l)
				if toPar {
					target = par
				}
				from := []string{l.Item}
				if accepted {
					from = l.Accepts
				}
				for _, item := range from {
					for got[i] < target && giveOne(i, item) {
					}
				}
			}
		}
	}
}

func (a *naiveAnswer) judgeLines(v inventory.BagView, units []naiveUnit) {
	for i, l := range v.List.Lines {
		par, minimum := naiveWanted(l)
		got, other, byLot := 0, 0, map[int64]int{}
		for _, u := range units {
			if u.line == i {
				if got++; u.item != l.Item {
					other++
				}
				byLot[u.lot]++
			}
		}
		if got < minimum {
			a.add("stop", "below_minimum", l.Item, 0, par-got, 0, "")
		} else if got < par {
			a.add("warn", "below_par", l.Item, 0, par-got, 0, "")
		}
		a.usable, a.missing = append(a.usable, got), append(a.missing, max(0, par-got))
		a.standIns = append(a.standIns, other)
		a.lines = append(a.lines, fmt.Sprintf("%s %s %d/%d/%d missing %d %v", l.Item, l.Pouch, got, minimum, par,
			max(0, par-got), byLot))
	}
}

func naiveOnList(v inventory.BagView, item string) bool {
	for _, l := range v.List.Lines {
		if l.Item == item || slices.Contains(l.Accepts, item) {
			return true
		}
	}
	return false
}

func (a *naiveAnswer) judgeLots(v inventory.BagView, units []naiveUnit, today inventory.Day, horizon int) {
	for _, st := range v.Stock {
		l := st.Lot
		end, rule := naiveEnd(v.Items[l.Item], l)
		if len(l.Withdrawn) > 0 {
			a.add("stop", "under_notice", l.Item, l.ID, st.Qty, 0, "")
		}
		if end < today {
			a.add("warn", "past_end", l.Item, l.ID, st.Qty, end, rule)
		} else if end-today <= inventory.Day(horizon) {
			a.add("warn", "ends_soon", l.Item, l.ID, st.Qty, end, rule)
		}
		if end == today-1 {
			a.ended = append(a.ended, l.ID)
		}
		if due, overdue := naiveInspection(v.Items[l.Item], l, today); overdue {
			a.add("warn", "inspection_due", l.Item, l.ID, st.Qty, due, "")
		}
		if naiveWorn(v.Items[l.Item], l) {
			a.add("warn", "worn_out", l.Item, l.ID, st.Qty, 0, "")
		}
		if !naiveOnList(v, l.Item) {
			a.add("warn", "not_on_list", l.Item, l.ID, st.Qty, 0, "")
			continue
		}
		left := 0
		for _, u := range units {
			if u.lot == l.ID && u.fit && !u.gone && u.end >= today && u.line < 0 {
				left++
			}
		}
		if left > 0 {
			a.add("warn", "surplus", l.Item, l.ID, left, 0, "")
			a.surplus = append(a.surplus, fmt.Sprintf("%d×%d", l.ID, left))
		}
	}
}

func (a *naiveAnswer) judgeRules(v inventory.BagView, units []naiveUnit, today inventory.Day) {
	for _, r := range v.List.Rules {
		condition, have := r.WhenCategory == "", 0
		count := func(item string, n int) {
			if v.Items[item].Category == r.WhenCategory {
				condition = true
			}
			if item == r.NeedItem || r.NeedCategory != "" && v.Items[item].Category == r.NeedCategory {
				have += n
			}
		}
		for _, u := range units {
			if u.fit && !u.gone && u.end >= today {
				count(u.item, 1)
			}
		}
		for _, l := range v.List.Lines {
			if l.CarriedElsewhere != "" {
				count(l.Item, 1000000) // as many as any rule may ask for
			}
		}
		if !condition || have >= r.AtLeast {
			continue
		}
		need := string(r.NeedCategory)
		if r.NeedItem != "" {
			need = v.Items[r.NeedItem].Name
		}
		a.add(string(r.Severity), "kit_rule", r.NeedItem, 0, r.AtLeast-have, 0, fmt.Sprintf("at least %d %s", r.AtLeast,
			need))
	}
}
