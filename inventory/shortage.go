package inventory

import (
	"cmp"
	"maps"
	"slices"

	"stowkeeper/inventory/donor"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/reorder"
)

// ReportInput is everything that the shortage report looks at.
type ReportInput struct {
	Stations  []Station
	Bags      []BagView
	Stores    []Stock           // what lies in stores of issue stock
	StationOf map[string]string // store place → station
	Items     map[string]Item
	Products  map[int64]Product
}

// ShortageRow is a line of a bag that holds less than it should.
type ShortageRow struct {
	Station      string `json:"station"`
	Bag          string `json:"bag"`
	Item         string `json:"item,omitempty"`
	KitList      string `json:"kit_list,omitempty" doc:"Kit list of missing modules, in place of an item"`
	Pouch        string `json:"pouch,omitempty"`
	Par          int    `json:"par"`
	Minimum      int    `json:"minimum"`
	Usable       int    `json:"usable"`
	Shortfall    int    `json:"shortfall" doc:"Units missing to par"`
	BelowMinimum bool   `json:"below_minimum"`
	Critical     bool   `json:"critical"`
}

// Buy is what is still missing at a station after every store has been looked at, in what its lists want: where
// another item stands in, that covers it only meanwhile.
type Buy struct {
	Station  string `json:"station"`
	Item     string `json:"item"`
	Qty      int    `json:"qty" doc:"Units missing"`
	Covered  int    `json:"covered,omitempty" doc:"How many of them an accepted item covers meanwhile"`
	Packs    int    `json:"packs,omitempty" doc:"Whole packs of the item's preferred product that cover them"`
	PackSize int    `json:"pack_size,omitempty"`
	Product  int64  `json:"product,omitempty"`
}

// BagCounts counts bags by state; a module counts with its bag.
type BagCounts struct {
	Ready         int `json:"ready"`
	ReadyWithGaps int `json:"ready_with_gaps"`
	NotReady      int `json:"not_ready"`
	OutOfService  int `json:"out_of_service"`
	Stop          Day `json:"-"` // of a station's: the first day on which one of them stops, 0 for none
}

// FirstStop says when a bag will stop being ready if nobody acts, and which lot causes it.
type FirstStop struct {
	Bag     string `json:"bag"`
	Station string `json:"station"`
	On      Day    `json:"on" format:"date"`
	LotID   int64  `json:"lot_id"`
}

// BagState is one bag's state in a report.
type BagState struct {
	Bag, Station string
	State        State
	Inside       string // the bag that it is a module of, and counts with
	Name         string
	Headline     message.Message
}

// Shortages is the report that a manager reads: what is missing where, what can fill it, what must be bought.
type Shortages struct {
	AsOf        Day           `json:"as_of,omitempty" format:"date" doc:"Default: each station's today"`
	HorizonDays int           `json:"horizon_days"`
	Rows        []ShortageRow `json:"rows"`
	Fill        []Fill        `json:"fill"`
	Buy         []Buy         `json:"buy"`
	Bags        BagCounts     `json:"bags"`
	FirstStops  []FirstStop   `json:"first_stops" maxItems:"1000" doc:"The first thousand, by day"`
	ClockLeft   bool          `json:"clock_left_out,omitempty" doc:"True when overdue checks were not judged"`

	At      map[string]BagCounts `json:"-"` // by station
	States  []BagState           `json:"-"` // of every bag, where all were judged for it
	Mending map[string]Mending   `json:"-"` // by bag, of those with a line under its minimum
}

// Mending is what brings the lines of a bag to their minimum.
type Mending struct {
	From    string   // a store of another station that has what the own one lacks
	Missing []string // items that no store has
}

// ShortagesOf makes the report. What a station's stores hold is allocated among its bags: every line up to its
// minimum, critical lines first, then by bag priority, bag code and line order; what a station lacks to its minimums is
// then looked for in other stations' stores, which keep their own minimums and the item's reserve. Likewise every line
// up to par, for which others keep their own pars too. What is left is to be bought. Rows and states are by the version
// of its kit list that each bag has, fill plan and purchases by the newest that is in force, as its pick list is.
func ShortagesOf(g ReportInput, now Instant, asOf Day, horizon int) Shortages {
	m := NewReportMaking(g, now, asOf, horizon)
	for i := range g.Bags {
		v := &g.Bags[i]
		j, r := Judge(*v, now, asOf, horizon)
		m.rep.ClockLeft = m.rep.ClockLeft || r.ClockLeft
		m.rep.States = append(m.rep.States, BagState{v.Bag.Code, v.Bag.AtStation, r.State, v.Bag.Inside, v.Bag.Name,
			Headline(v.Bag, r)})
		m.Judged(v, j)
	}
	return m.Shortages()
}

// ReportMaking is a shortage report in the making.
type ReportMaking struct {
	rep  Shortages
	plan fillPlan
	now  Instant
}

// NewReportMaking begins a report, of which the bags are still to be added.
func NewReportMaking(g ReportInput, now Instant, asOf Day, horizon int) *ReportMaking {
	return &ReportMaking{now: now,
		rep: Shortages{AsOf: asOf, HorizonDays: horizon, Rows: []ShortageRow{}, Fill: []Fill{}, Buy: []Buy{},
			FirstStops: []FirstStop{}, States: []BagState{}, At: map[string]BagCounts{}},
		plan: newFillPlan(g, func(s Station) Day { return cmp.Or(asOf, s.Today(now)) })}
}

// Judged adds a bag that was judged.
func (m *ReportMaking) Judged(v *BagView, j Judged) {
	var n BagCounts
	n.Add(j.State, 1)
	if j.FirstStop != nil {
		n.Stop = j.FirstStop.Date
		m.Stops(FirstStop{v.Bag.Code, v.Bag.AtStation, j.FirstStop.Date, j.FirstStop.LotID})
	}
	if v.Bag.Inside == "" {
		m.Counts(v.Bag.AtStation, n)
	}
	m.Lacks(v, j)
}

// Counts adds bags of a station, by their states.
func (m *ReportMaking) Counts(station string, n BagCounts) {
	m.rep.At[station] = m.rep.At[station].Plus(n)
}

// Stops adds days on which bags stop.
func (m *ReportMaking) Stops(stops ...FirstStop) {
	m.rep.FirstStops = append(m.rep.FirstStops, stops...)
}

// Lacks adds what a bag was judged to lack by its kit list, and its demands by the newest that is in force: a restock
// moves it there. Of the bag nothing is asked but its record and the versions of its list.
func (m *ReportMaking) Lacks(v *BagView, j Judged) {
	for _, r := range j.Rows {
		r.Station, r.Bag = v.Bag.AtStation, v.Bag.Code
		m.rep.Rows = append(m.rep.Rows, r)
	}
	day := cmp.Or(m.rep.AsOf, v.Station.Today(m.now))
	next := v.OnNewest(day)
	for _, l := range j.Lacks {
		m.plan.demands = append(m.plan.demands, l.demand(&next).askedOn(day))
	}
	m.plan.bags = append(m.plan.bags, judgedBag{&next, j})
}

// Shortages is the report of the bags that were added.
func (m *ReportMaking) Shortages() Shortages {
	rep, plan := m.rep, &m.plan
	rep.Mending = plan.mending
	rep.Fill = append(append(rep.Fill, plan.run()...), fillModules(plan.bags, plan.bags)...)
	rep.Buy = append(rep.Buy, plan.buys()...)
	slices.SortFunc(rep.FirstStops, func(a, b FirstStop) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.Bag, b.Bag))
	})
	rep.count()
	return rep
}

func (g ReportInput) StoresByStation() map[string][]Stock {
	m := map[string][]Stock{}
	for _, st := range g.Stores {
		station := g.StationOf[st.Place]
		m[station] = append(m[station], st)
	}
	return m
}

// count sums up what is counted by station.
func (rep *Shortages) count() {
	rep.Bags = BagCounts{}
	for _, n := range rep.At {
		rep.Bags = rep.Bags.Plus(n)
	}
	rep.Bags.Stop = 0
}

// Plus counts the bags of both.
func (c BagCounts) Plus(n BagCounts) BagCounts {
	if c.Stop == 0 || n.Stop != 0 && n.Stop < c.Stop {
		c.Stop = n.Stop
	}
	return BagCounts{c.Ready + n.Ready, c.ReadyWithGaps + n.ReadyWithGaps, c.NotReady + n.NotReady,
		c.OutOfService + n.OutOfService, c.Stop}
}

// Add counts n bags in a state.
func (c *BagCounts) Add(s State, n int) {
	switch s {
	case Ready:
		c.Ready += n
	case ReadyWithGaps:
		c.ReadyWithGaps += n
	case NotReady:
		c.NotReady += n
	case OutOfService:
		c.OutOfService += n
	}
}

// fillPlan allocates what the stores hold among what the bags lack.
type fillPlan struct {
	ReportInput
	shelves map[string]storeContents // by station
	demands []*Demand
	bags    []judgedBag
	mending map[string]Mending
	away    map[[2]string]donor.Distance // between stations, as far as asked for
}

// newFillPlan is a plan of what the stores hold of issue stock, on a day at each station.
func newFillPlan(g ReportInput, day func(Station) Day) fillPlan {
	p := fillPlan{ReportInput: g, shelves: map[string]storeContents{}, mending: map[string]Mending{},
		away: map[[2]string]donor.Distance{}}
	stores := g.StoresByStation()
	for _, s := range g.Stations {
		p.shelves[s.Code] = newStoreContents(stores[s.Code], g.Items, day(s), ForIssue)
	}
	return p
}

// distance is how far a station lies from a bag's.
func (p *fillPlan) distance(to, from Station) donor.Distance {
	pair := [2]string{to.Code, from.Code}
	if _, known := p.away[pair]; !known {
		p.away[pair] = donor.DistanceOf(to.lies(), from.lies())
	}
	return p.away[pair]
}

func (p *fillPlan) run() []Fill {
	slices.SortFunc(p.demands, byClaim)
	var out []Fill
	for _, d := range p.demands {
		if d.toMin > 0 {
			p.mending[d.bag.Bag.Code] = Mending{}
		}
		own := p.shelves[d.station]
		out = append(append(out, own.serve(d, &d.toMin, false)...), own.serve(d, &d.toMin, true)...)
	}
	for _, d := range p.demands { // lots that last go first, wherever they lie
		fills := append(p.elsewhere(d, &d.toMin, false), p.elsewhere(d, &d.toMin, true)...)
		out = append(out, fills...)
		m := p.mending[d.bag.Bag.Code]
		if len(fills) > 0 {
			m.From = fills[0].From
		}
		if d.toMin > 0 {
			m.Missing = append(m.Missing, d.bag.List.Lines[d.line].Item)
		}
		if len(fills)+d.toMin > 0 {
			p.mending[d.bag.Bag.Code] = m
		}
	}
	for _, d := range p.demands {
		out = append(out, p.shelves[d.station].serve(d, &d.toPar, false)...)
	}
	for _, d := range p.demands {
		out = append(out, p.elsewhere(d, &d.toPar, false)...)
	}
	for i, f := range out {
		if f.Kind == FillTransfer {
			out[i].Keeps = p.shelves[p.StationOf[f.From]].held(f.Item)
		}
	}
	return out
}

// elsewhere serves a demand from the stores of the other stations: with the line's own item, then with accepted ones.
func (p *fillPlan) elsewhere(d *Demand, want *int, short bool) []Fill {
	if *want <= 0 {
		return nil
	}
	var out []Fill
	line := d.bag.List.Lines[d.line]
	for _, item := range append([]string{line.Item}, line.Accepts...) {
		for *want > 0 {
			var donors []donor.Donor
			var lots []*storeLot
			for _, s := range p.Stations {
				lot := p.shelves[s.Code].next(d, item, short)
				if lot == nil || s.Code == d.station {
					continue
				}
				donors = append(donors, donor.Donor{Station: s.Code, Left: p.shelves[s.Code].held(item),
					Reserve: p.Items[item].Reserve, Through: int(lot.through),
					Away: p.distance(d.bag.Station, s)})
				lots = append(lots, lot)
			}
			i := donor.Next(donors)
			if i < 0 {
				break
			}
			f := p.shelves[donors[i].Station].give(d, lots[i], min(*want, donors[i].Spare()), short, FillTransfer)
			d.got(f)
			out = append(out, f)
		}
	}
	return out
}

// buys sums up what no store could fill with the line's own item, by station and item of the line.
func (p *fillPlan) buys() []Buy {
	type key struct{ station, item string }
	missing, covered := map[key]int{}, map[key]int{}
	for _, d := range p.demands {
		if d.covered > 0 {
			p.shelves[d.station].takeOwn(d, 0)
			for _, s := range p.Stations {
				if s.Code != d.station {
					p.shelves[s.Code].takeOwn(d, p.Items[d.bag.List.Lines[d.line].Item].Reserve)
				}
			}
		}
		if k := (key{d.station, d.bag.List.Lines[d.line].Item}); d.toPar+d.covered > 0 {
			missing[k] += d.toPar + d.covered
			covered[k] += d.covered
		}
	}
	keys := slices.SortedFunc(maps.Keys(missing), func(a, b key) int {
		return cmp.Or(cmp.Compare(a.station, b.station), cmp.Compare(a.item, b.item))
	})
	var out []Buy
	for _, k := range keys {
		b := Buy{Station: k.station, Item: k.item, Qty: missing[k], Covered: covered[k]}
		if pr, ok := p.Products[p.Items[k.item].PreferredProduct]; ok {
			b.Product, b.PackSize = pr.ID, pr.PackSize
			b.Packs = reorder.Packs(b.Qty, pr.PackSize)
		}
		out = append(out, b)
	}
	return out
}

// Only narrows a report to some stations; none means all.
func (rep Shortages) Only(g ReportInput, stations []string, now Instant) Shortages {
	if len(stations) == 0 {
		return rep
	}
	hidden := func(station string) bool { return !slices.Contains(stations, station) }
	rep.ClockLeft = false
	for _, v := range g.Bags {
		rep.ClockLeft = rep.ClockLeft || !hidden(v.Bag.AtStation) && rep.AsOf != 0 && rep.AsOf != v.Station.Today(now)
	}
	rep.Rows = slices.DeleteFunc(rep.Rows, func(x ShortageRow) bool { return hidden(x.Station) })
	rep.Fill = slices.DeleteFunc(rep.Fill, func(x Fill) bool { return hidden(x.Station) })
	rep.Buy = slices.DeleteFunc(rep.Buy, func(x Buy) bool { return hidden(x.Station) })
	rep.FirstStops = slices.DeleteFunc(rep.FirstStops, func(x FirstStop) bool { return hidden(x.Station) })
	rep.States = slices.DeleteFunc(rep.States, func(x BagState) bool { return hidden(x.Station) })
	maps.DeleteFunc(rep.At, func(station string, _ BagCounts) bool { return hidden(station) })
	rep.count()
	return rep
}
