package inventory_test

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// naiveWant is one line of one bag that lacks something.
type naiveWant struct {
	bag          *inventory.BagView
	line         int
	today        inventory.Day // at the bag's station
	toMin, toPar int
	standIns     int // units of another item in its place
}

// naivePlan is the fill plan of a region, unit by unit.
type naivePlan struct {
	wants []*naiveWant
	units map[string][]*naiveUnit // by station, only what may be picked there

	stations []inventory.Station
	items    map[string]inventory.Item

	fills map[string]int // "bag item lot from kind short" → units
}

// before tells who is served first: critical lines, then bag priority, then
// bag code, then the order of the list.
func (w *naiveWant) before(o *naiveWant) bool {
	a, b := w.bag.List.Lines[w.line], o.bag.List.Lines[o.line]
	if a.Critical != b.Critical {
		return a.Critical
	}
	if w.bag.Bag.Priority != o.bag.Bag.Priority {
		return w.bag.Bag.Priority < o.bag.Bag.Priority
	}
	if w.bag.Bag.Code != o.bag.Bag.Code {
		return w.bag.Bag.Code < o.bag.Bag.Code
	}
	return w.line < o.line
}

func naivePlanOf(g inventory.ReportInput, now inventory.Instant, asOf inventory.Day) *naivePlan {
	p := &naivePlan{units: map[string][]*naiveUnit{}, fills: map[string]int{}}
	for _, station := range g.Stations {
		today := asOf
		if today == 0 {
			today = naiveToday(station, now)
		}
		units := naiveUnits(g.Stores, g.Items, false)
		for i := range units {
			if u := &units[i]; g.StationOf[u.place] == station.Code && u.fit && !u.spent && u.end >= today {
				p.units[station.Code] = append(p.units[station.Code], u)
			}
		}
	}
	for i := range g.Bags {
		v := &g.Bags[i]
		today := asOf
		if today == 0 {
			today = naiveToday(v.Station, now)
		}
		later := *v // a restock moves it to the newest version that is in force
		for _, k := range v.Versions {
			if k.Version > later.List.Version && today >= k.ValidFrom && (k.ValidTo == 0 || k.ValidTo >= today) {
				later.List = k
			}
		}
		v = &later
		a := naiveStill(*v, today, 0)
		for line, l := range v.List.Lines {
			_, minimum := naiveWanted(l)
			p.wants = append(p.wants, &naiveWant{bag: v, line: line, today: today, toMin: max(0, minimum-a.usable[line]),
				toPar: a.missing[line], standIns: a.standIns[line]})
		}
	}
	sort.SliceStable(p.wants, func(i, j int) bool { return p.wants[i].before(p.wants[j]) })
	p.allocate(g.Stations, g.Items)
	return p
}

// allocate serves everybody up to the minimum, from the own station's stores, then from the other stations'; then
// likewise up to par.
func (p *naivePlan) allocate(stations []inventory.Station, items map[string]inventory.Item) {
	p.stations, p.items = stations, items
	for _, toPar := range []bool{false, true} {
		for _, w := range p.wants {
			p.serve(w, []string{w.bag.Bag.AtStation}, "restock", toPar, false)
			if !toPar {
				p.serve(w, []string{w.bag.Bag.AtStation}, "restock", false, true)
			}
		}
		for _, w := range p.wants {
			p.beg(w, toPar, false)
			if !toPar {
				p.beg(w, false, true)
			}
		}
	}
}

// beg gets unit after unit from whichever station has more of the item than its reserve and would send the one that
// ends last; of those the nearest, of those the first by code.
func (p *naivePlan) beg(w *naiveWant, toPar, short bool) {
	line := w.bag.List.Lines[w.line]
	for _, item := range append([]string{line.Item}, line.Accepts...) {
		for w.toMin > 0 || toPar && w.toPar > 0 {
			var able []inventory.Station
			end := map[string]inventory.Day{}
			for _, s := range p.stations {
				left := 0
				for _, u := range p.units[s.Code] {
					if u.item == item && u.line < 0 {
						left++
					}
				}
				u := p.first(s.Code, item, w, short)
				if s.Code != w.bag.Bag.AtStation && u != nil && left > p.items[item].Reserve {
					able, end[s.Code] = append(able, s), u.end
				}
			}
			if len(able) == 0 {
				break
			}
			home := p.stations[slices.IndexFunc(p.stations, func(s inventory.Station) bool {
				return s.Code == w.bag.Bag.AtStation
			})]
			sort.Slice(able, func(i, j int) bool {
				a, b := able[i], able[j]
				if end[a.Code] != end[b.Code] {
					return end[a.Code] > end[b.Code]
				}
				if x, y := naiveFar(home, a), naiveFar(home, b); x != y {
					return x < y
				}
				return a.Code < b.Code
			})
			p.one(w, able[0].Code, item, "transfer", short)
		}
	}
}

// naiveFar is how far two stations lie apart: minutes, or a million and kilometres as straight through the Earth as
// the maker's positions need, or nobody knows.
func naiveFar(home, other inventory.Station) float64 {
	for _, x := range [][2]inventory.Station{{home, other}, {other, home}} {
		for _, t := range x[0].TravelMinutes {
			var code string
			var minutes float64
			if fmt.Sscan(t, &code, &minutes); code == x[1].Code {
				return minutes
			}
		}
	}
	var at [2][3]float64
	for i, s := range []inventory.Station{home, other} {
		var lat, lon float64
		if n, _ := fmt.Sscanf(s.Position, "%f, %f", &lat, &lon); n < 2 {
			return 1e9
		}
		lat, lon = lat*math.Pi/180, lon*math.Pi/180
		at[i] = [3]float64{math.Cos(lat) * math.Cos(lon), math.Cos(lat) * math.Sin(lon), math.Sin(lat)}
	}
	return 1e6 + math.Sqrt(math.Pow(at[0][0]-at[1][0], 2)+math.Pow(at[0][1]-at[1][1], 2)+math.Pow(at[0][2]-at[1][2], 2))
}

func (p *naivePlan) serve(w *naiveWant, stations []string, kind string, toPar, short bool) {
	line := w.bag.List.Lines[w.line]
	for _, station := range stations {
		for _, item := range append([]string{line.Item}, line.Accepts...) {
			for w.toMin > 0 || toPar && w.toPar > 0 {
				if !p.one(w, station, item, kind, short) {
					break
				}
			}
		}
	}
}

func (p *naivePlan) one(w *naiveWant, station, item, kind string, short bool) bool {
	u := p.first(station, item, w, short)
	if u == nil {
		return false
	}
	u.line = w.line
	w.toMin, w.toPar = max(0, w.toMin-1), w.toPar-1
	if item != w.bag.List.Lines[w.line].Item {
		w.standIns++
	}
	p.fills[fmt.Sprintf("%s %s %d %s %s %t", w.bag.Bag.Code, item, u.lot, u.place, kind, short)]++
	return true
}

// first is the unit that is picked next: earliest end, then day of receipt,
// then lot.
func (p *naivePlan) first(station, item string, w *naiveWant, short bool) *naiveUnit {
	var best *naiveUnit
	for _, u := range p.units[station] {
		lasts := u.end >= w.today+inventory.Day(w.bag.List.MinRemainingDays)
		if u.item != item || u.line >= 0 || lasts == short || u.end < w.today {
			continue
		}
		if best == nil || u.end < best.end || u.end == best.end && (u.received < best.received ||
			u.received == best.received && u.lot < best.lot) {
			best = u
		}
	}
	return best
}

// buys is what has to be bought, and how much of it something else stands in for; what is on a shelf of the own item
// and goes nowhere needs no buying.
func (p *naivePlan) buys(g inventory.ReportInput) map[string][2]int {
	missing := map[string][2]int{}
	for _, w := range p.wants {
		line := w.bag.List.Lines[w.line]
		home := w.bag.Bag.AtStation
		for _, at := range append([]inventory.Station{{Code: home}}, g.Stations...) {
			for w.standIns > 0 {
				left := 0
				for _, u := range p.units[at.Code] {
					if u.item == line.Item && u.line < 0 {
						left++
					}
				}
				u := p.first(at.Code, line.Item, w, false)
				if u == nil || at.Code != home && left <= g.Items[line.Item].Reserve {
					break
				}
				u.line, w.standIns = w.line, w.standIns-1
			}
		}
		if n := w.toPar + w.standIns; n > 0 {
			was := missing[home+" "+line.Item]
			missing[home+" "+line.Item] = [2]int{was[0] + n, was[1] + w.standIns}
		}
	}
	return missing
}

// naiveRows are the rows of the shortage report in short.
func naiveRows(v inventory.BagView, a naiveAnswer) []string {
	var rows []string
	for i, l := range v.List.Lines {
		if par, minimum := naiveWanted(l); a.missing[i] > 0 {
			rows = append(rows, fmt.Sprintf("%s %s %s %q par %d min %d usable %d short %d below %t critical %t", v.Bag.AtStation,
				v.Bag.Code, l.Item, l.Pouch,
				par, minimum, a.usable[i], par-a.usable[i], a.usable[i] < minimum, l.Critical))
		}
	}
	return rows
}

func shortFills(fills []inventory.Fill) map[string]int {
	m := map[string]int{}
	for _, f := range fills {
		m[fmt.Sprintf("%s %s %d %s %s %t", f.Bag, f.Item, f.LotID, f.From, f.Kind, f.ShortDated)] += f.Qty
	}
	return m
}

func shortBuys(buys []inventory.Buy) map[string][2]int {
	m := map[string][2]int{}
	for _, b := range buys {
		m[b.Station+" "+b.Item] = [2]int{b.Qty, b.Covered}
	}
	return m
}

func shortAnswer(r inventory.Readiness) naiveAnswer {
	a := naiveAnswer{state: r.State, findings: inventorytest.Findings(r)}
	slices.Sort(a.findings)
	for _, l := range r.Lines {
		byLot, other := map[int64]int{}, 0
		for _, lot := range l.Lots {
			if lot.Usable {
				byLot[lot.LotID] += lot.Qty
				if lot.Item != l.Item {
					other += lot.Qty
				}
			}
		}
		a.standIns = append(a.standIns, other)
		a.lines = append(a.lines, fmt.Sprintf("%s %s %d/%d/%d missing %d %v", l.Item, l.Pouch, l.Usable, l.Minimum, l.Par,
			l.Shortfall, byLot))
		a.usable, a.missing = append(a.usable, l.Usable), append(a.missing, l.Shortfall)
	}
	for _, s := range r.Surplus {
		a.surplus = append(a.surplus, fmt.Sprintf("%d×%d", s.LotID, s.Qty))
	}
	return a
}
