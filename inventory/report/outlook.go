package report

import (
	"math/rand/v2"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/reorder"
)

// Expected is what a station is expected to use of an item in a week.
type Expected struct {
	Station, Item string
	Use           reorder.Use
	Thin          bool    // too little is known to say how use comes
	none          float64 // the chance of none
}

// Week is how many of the bags may go out on one day, in four cases that each have the one before. Seals, checks,
// observations and modules stay as they are in all of them.
type Week struct {
	On         inventory.Day
	Bags       int  // all that are not retired; modules count with their bag
	NobodyActs int  // by dates alone
	FillPlan   int  // each week the fill plan is carried out, and what is unfit comes out of the bags
	Orders     int  // what will be missing is ordered in packs, and arrives after the item's lead time; it lasts the year
	UseGoesOn  Band // what is used each week is drawn by chance, and taken from bags at its station
}

// Band is the middle of many simulated years and what nine in ten of them lie within, each week for itself.
type Band struct{ Low, Middle, High int }

// Weeks is how far an outlook reaches.
const Weeks = 52

// Outlook is a year ahead in four cases, station by station.
type Outlook struct {
	At       inventory.Instant
	days     []inventory.Day
	stations []string
	bags     []int     // by station
	lived    [][][]int // by year lived through, week and station, how many bags may go out: the cases, then the simulated
}

// cases are the years that are lived through without chance.
const cases = 3

// OutlookOf works out today and Weeks weeks. runs is how many years are simulated for the last case; the same seed
// gives the same years.
func OutlookOf(in inventory.ReportInput, now inventory.Instant, uses []Expected, runs int, seed uint64) Outlook {
	o := Outlook{At: now}
	base := inventory.Day(0)
	for _, s := range in.Stations {
		base = max(base, s.Today(now)) // one day for all: the latest
		o.stations = append(o.stations, s.Code)
	}
	for w := range Weeks + 1 {
		o.days = append(o.days, base.AddDays(7*w))
	}
	uses = slices.Clone(uses)
	for i, u := range uses {
		uses[i].none = u.Use.AtMost(0)
	}
	for year := range cases + runs {
		sim := newSimulation(in, uses)
		var rnd *rand.Rand
		if year >= cases {
			rnd = rand.New(rand.NewPCG(seed, uint64(year-cases))) // #nosec G404 -- years to compare, no secret
		}
		var weeks [][]int
		for w, day := range o.days {
			if w == 1 {
				clear(sim.is.again) // what is unfit comes out of all bags
			}
			sim.week(day, w > 0 && year > 0, year > 1, rnd, uses)
			var may []int
			may, o.bags = sim.count(o.stations)
			weeks = append(weeks, may)
		}
		o.lived = append(o.lived, weeks)
	}
	return o
}

// Weeks sums up bags of some stations, none for all. The band is empty where no years were simulated.
func (o Outlook) Weeks(stations []string) []Week {
	out := make([]Week, len(o.days))
	for w := range out {
		out[w].On = o.days[w]
		sums := make([]int, len(o.lived))
		for i, code := range o.stations {
			if len(stations) > 0 && !slices.Contains(stations, code) {
				continue
			}
			out[w].Bags += o.bags[i]
			for year := range o.lived {
				sums[year] += o.lived[year][w][i]
			}
		}
		out[w].NobodyActs, out[w].FillPlan, out[w].Orders = sums[0], sums[1], sums[2]
		if of := sums[cases:]; len(of) > 0 {
			slices.Sort(of)
			beyond := (len(of) - 1) / 20
			out[w].UseGoesOn = Band{of[beyond], of[len(of)/2], of[len(of)-1-beyond]}
		}
	}
	return out
}

// simulation is bags and stores as they become, week by week. Only bags that a date or a movement can have changed are
// looked at again: as they are on a day, and as they will be when what is ordered that day has come.
type simulation struct {
	in        inventory.ReportInput
	bags      map[string]int // by code, in in.Bags
	outer     map[string]int // by the code of a module, the bag that it is in
	is, comes glances
	holders   map[[2]string][]int // by station and item, the bags that ever hold some
	shelf     map[shelf]int       // where in in.Stores a lot at a place is
	orders    []order
	lots      int64 // that were made up, below zero
	ahead     int   // days: how long before they are missing units are ordered
}

// glances are one look at each bag, and the day on which it has to be looked at again.
type glances struct {
	at    []inventory.Glance
	again []inventory.Day
}

type shelf struct {
	place string
	lot   int64
}

// order is units that will come.
type order struct {
	station, item string
	qty           int
	due           inventory.Day
}

func newSimulation(in inventory.ReportInput, uses []Expected) *simulation {
	s := &simulation{in: in, bags: map[string]int{}, outer: map[string]int{}, holders: map[[2]string][]int{},
		shelf: map[shelf]int{}}
	s.in.Bags, s.in.Stores = slices.Clone(in.Bags), slices.Clone(in.Stores)
	s.is, s.comes = newGlances(len(in.Bags)), newGlances(len(in.Bags))
	for _, u := range uses {
		s.holders[[2]string{u.Station, u.Item}] = nil
	}
	for i := range s.in.Bags {
		v := &s.in.Bags[i]
		v.Stock, v.Modules = slices.Clone(v.Stock), slices.Clone(v.Modules)
		s.bags[v.Bag.Code] = i
		for _, m := range v.Modules {
			s.outer[m.Bag.Code] = i
		}
		for _, st := range v.Stock {
			s.holds(i, st.Lot.Item)
		}
	}
	for i, st := range s.in.Stores {
		s.shelf[shelf{st.Place, st.Lot.ID}] = i
	}
	for _, it := range in.Items {
		s.ahead = max(s.ahead, it.LeadTimeDays)
	}
	s.ahead += 7 // until the week in which they come
	return s
}

func newGlances(n int) glances { return glances{make([]inventory.Glance, n), make([]inventory.Day, n)} }

// holds notes that a bag holds an item, if anybody is expected to use it there.
func (s *simulation) holds(i int, item string) {
	of := [2]string{s.in.Bags[i].Bag.AtStation, item}
	if in, ok := s.holders[of]; ok && !slices.Contains(in, i) {
		s.holders[of] = append(in, i)
	}
}

// count tells by station how many bags may go out, and of how many.
func (s *simulation) count(stations []string) (may, all []int) {
	may, all = make([]int, len(stations)), make([]int, len(stations))
	at := map[string]int{}
	for i, code := range stations {
		at[code] = i
	}
	for i, v := range s.in.Bags {
		station, ok := at[v.Bag.AtStation]
		if !ok || v.Bag.Retired() || v.Bag.Inside != "" {
			continue
		}
		if all[station]++; s.is.at[i].MayGoOut {
			may[station]++
		}
	}
	return may, all
}

// week lives through the week before a day, and judges on it.
func (s *simulation) week(day inventory.Day, fills, orders bool, rnd *rand.Rand, uses []Expected) {
	if fills && rnd != nil {
		s.use(uses, rnd, day)
	}
	if orders {
		s.arrive(day)
	}
	if fills {
		s.fill(day)
	}
	if orders {
		s.order(day)
	}
	s.is.look(s.in.Bags, day)
}

// look looks again at each bag that can have changed by a day.
func (g *glances) look(bags []inventory.BagView, day inventory.Day) {
	for i, v := range bags {
		if g.again[i] <= day {
			if g.at[i] = inventory.GlanceAt(v, day); g.at[i].Next != 0 {
				g.again[i] = g.at[i].Next
			} else {
				g.again[i] = day.AddDays(36500)
			}
		}
	}
}

func (g *glances) lacks() (out []inventory.Demand) {
	for _, x := range g.at {
		out = append(out, x.Lacks...)
	}
	return out
}

// fill takes what is unfit out of the bags, and carries the fill plan of a day out. Modules stay where they are.
func (s *simulation) fill(day inventory.Day) {
	for i := range s.in.Bags {
		if s.is.again[i] > day {
			continue
		}
		v, had := &s.in.Bags[i], len(s.in.Bags[i].Stock)
		v.Stock = slices.DeleteFunc(v.Stock, func(st inventory.Stock) bool {
			return inventory.Unfit(v.Items[st.Lot.Item], st.Lot, day)
		})
		if len(v.Stock) < had {
			s.changed(v.Bag.Code)
		}
	}
	s.is.look(s.in.Bags, day)
	fills, _ := inventory.PlanOf(s.in, s.is.lacks(), day)
	for _, f := range fills {
		s.stow(f, day)
	}
}

// stow moves units of the plan from a store into a bag, which is then by its newest list.
func (s *simulation) stow(f inventory.Fill, day inventory.Day) {
	v := &s.in.Bags[s.bags[f.Bag]]
	st := &s.in.Stores[s.shelf[shelf{f.From, f.LotID}]]
	st.Qty -= f.Qty
	lot := st.Lot
	if after := inventory.ClocksAfter(v.Items[lot.Item], lot.Clocks, v.Bag.Place(), day, day); after != lot.Clocks {
		s.lots--
		lot.ID, lot.Clocks = s.lots, after
	}
	v.Stock = append(v.Stock, inventory.Stock{Place: f.Bag, Lot: lot, Qty: f.Qty})
	*v = v.OnNewest(day)
	s.changed(f.Bag)
	s.holds(s.bags[f.Bag], lot.Item)
}

// changed has a bag looked at again, and the bag that it is in, which sees it as it is now.
func (s *simulation) changed(bag string) {
	i := s.bags[bag]
	s.is.again[i], s.comes.again[i] = 0, 0
	if o, ok := s.outer[bag]; ok {
		s.is.again[o], s.comes.again[o] = 0, 0
		for k := range s.in.Bags[o].Modules {
			if m := &s.in.Bags[o].Modules[k]; m.Bag.Code == bag {
				*m = s.in.Bags[i]
			}
		}
	}
}

// order orders what will be missing, and is not on its way, in whole packs.
func (s *simulation) order(day inventory.Day) {
	then := day.AddDays(s.ahead)
	s.comes.look(s.in.Bags, then)
	_, buy := inventory.PlanOf(s.in, s.comes.lacks(), then)
	for _, b := range buy {
		for _, o := range s.orders {
			if o.station == b.Station && o.item == b.Item {
				b.Qty -= o.qty
			}
		}
		if b.Qty <= 0 {
			continue
		}
		pack := max(1, b.PackSize)
		due := day.AddDays(s.in.Items[b.Item].LeadTimeDays)
		s.orders = append(s.orders, order{b.Station, b.Item, reorder.Packs(b.Qty, pack) * pack, due})
	}
}

// arrive puts what was ordered into the store of its station.
func (s *simulation) arrive(day inventory.Day) {
	s.orders = slices.DeleteFunc(s.orders, func(o order) bool {
		if o.due > day {
			return false
		}
		place := inventory.Station{Code: o.station}.StoreCode()
		s.lots--
		lot := inventory.Lot{ID: s.lots, ReceivedOn: day}
		lot.Item, lot.LastUsable = o.item, day.AddDays(10*365)
		s.shelf[shelf{place, lot.ID}] = len(s.in.Stores)
		s.in.Stores = append(s.in.Stores, inventory.Stock{Place: place, Lot: lot, Qty: o.qty})
		return true
	})
}

// use takes what is used in the week before a day from bags at each station, every unit there as likely as another.
func (s *simulation) use(uses []Expected, rnd *rand.Rand, day inventory.Day) {
	for _, u := range uses {
		p := rnd.Float64()
		if p <= u.none {
			continue
		}
		var left []int // the bag of each unit
		for _, i := range s.holders[[2]string{u.Station, u.Item}] {
			v := s.in.Bags[i]
			for _, st := range v.Stock {
				if st.Lot.Item == u.Item && !inventory.PastEnd(v.Items[u.Item], st.Lot, day) {
					left = append(left, slices.Repeat([]int{i}, st.Qty)...)
				}
			}
		}
		for range min(len(left), u.Use.Quantile(p)) {
			at, last := rnd.IntN(len(left)), len(left)-1
			s.takeOne(left[at], u.Item, day)
			left[at], left = left[last], left[:last]
		}
	}
}

// takeOne uses a unit of an item in a bag: of those that have not ended, the one that ends first.
func (s *simulation) takeOne(i int, item string, day inventory.Day) {
	v := &s.in.Bags[i]
	first := -1
	for k, st := range v.Stock {
		if st.Lot.Item != item || inventory.PastEnd(v.Items[item], st.Lot, day) {
			continue
		}
		ends := func(k int) inventory.Day { return inventory.UsableThrough(v.Items[item], v.Stock[k].Lot, day) }
		if first < 0 || inventory.CompareEnd(ends(k), ends(first)) < 0 {
			first = k
		}
	}
	if v.Stock[first].Qty--; v.Stock[first].Qty == 0 {
		v.Stock = slices.Delete(v.Stock, first, first+1)
	}
	s.changed(v.Bag.Code)
}
