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
}

// FirstStop says when a bag will stop being ready if nobody acts, and which lot causes it.
type FirstStop struct {
	Bag   string `json:"bag"`
	On    Day    `json:"on" format:"date"`
	LotID int64  `json:"lot_id"`
}

// BagState is one bag's state in a report.
type BagState struct {
	Bag     string `json:"bag"`
	Station string `json:"station"`
	State   State  `json:"state"`
	Inside  string `json:"inside,omitempty" doc:"The bag that it is a module of, and counts with"`

	Name     string          `json:"-"`
	Headline message.Message `json:"-"`
	Strip    Strip           `json:"-"`
}

// Shortages is the report that a manager reads: what is missing where, what can fill it, what must be bought.
type Shortages struct {
	AsOf        Day           `json:"as_of,omitempty" format:"date" doc:"Default: each station's today"`
	HorizonDays int           `json:"horizon_days"`
	Rows        []ShortageRow `json:"rows"`
	Fill        []Fill        `json:"fill"`
	Buy         []Buy         `json:"buy"`
	Bags        BagCounts     `json:"bags"`
	FirstStops  []FirstStop   `json:"first_stops"`
	States      []BagState    `json:"states"`
	ClockLeft   bool          `json:"clock_left_out,omitempty" doc:"True when overdue checks were not judged"`

	Mending map[string]Mending `json:"-"` // by bag, of those with a line under its minimum
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
	rep := Shortages{AsOf: asOf, HorizonDays: horizon, Rows: []ShortageRow{}, Fill: []Fill{}, Buy: []Buy{},
		FirstStops: []FirstStop{}, States: []BagState{}}
	plan := newFillPlan(g, func(s Station) Day { return cmp.Or(asOf, s.Today(now)) })
	for i := range g.Bags {
		rep.addBag(&g.Bags[i], now, asOf, horizon, &plan)
	}
	rep.Bags, rep.Mending = countBags(rep.States), plan.mending
	rep.Fill = append(append(rep.Fill, plan.run()...), fillModules(plan.bags, plan.bags)...)
	rep.Buy = append(rep.Buy, plan.buys()...)
	slices.SortFunc(rep.FirstStops, func(a, b FirstStop) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.Bag, b.Bag))
	})
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

// addBag judges one bag and adds its rows and state, by the kit list that it has, and its demands, by the newest that
// is in force: a restock moves it there.
func (rep *Shortages) addBag(v *BagView, now Instant, asOf Day, horizon int, plan *fillPlan) {
	r := ReadinessOf(*v, now, asOf, horizon)
	rep.ClockLeft = rep.ClockLeft || r.ClockLeft
	rep.States = append(rep.States, BagState{v.Bag.Code, v.Bag.AtStation, r.State, v.Bag.Inside, v.Bag.Name,
		Headline(v.Bag, r), r.Strip()})
	for _, l := range r.Lines {
		if l.Shortfall > 0 {
			rep.Rows = append(rep.Rows, ShortageRow{v.Bag.AtStation, v.Bag.Code, l.Item, "", l.Pouch, l.Par, l.Minimum,
				l.Usable, l.Shortfall, l.Usable < l.Minimum, l.Critical})
		}
	}
	for _, m := range missingModules(*v) {
		rep.Rows = append(rep.Rows, ShortageRow{Station: v.Bag.AtStation, Bag: v.Bag.Code, KitList: m.KitList, Par: m.Count,
			Minimum: m.Count, Usable: m.Count - m.missing, Shortfall: m.missing, BelowMinimum: true})
	}
	if r.FirstStop != nil {
		rep.FirstStops = append(rep.FirstStops, FirstStop{v.Bag.Code, r.FirstStop.Date, r.FirstStop.LotID})
	}
	next, restocked := v.OnNewest(r.AsOf), r
	if next.List.Version != v.List.Version {
		restocked = ReadinessOf(next, now, asOf, horizon)
	}
	plan.demands = append(plan.demands, demandsOf(&next, restocked)...)
	plan.bags = append(plan.bags, judgedBag{&next, r})
}

func countBags(all []BagState) (c BagCounts) {
	for _, b := range all {
		if b.Inside == "" {
			c.Count(b.State)
		}
	}
	return c
}

// Count counts one bag.
func (c *BagCounts) Count(s State) {
	switch s {
	case Ready:
		c.Ready++
	case ReadyWithGaps:
		c.ReadyWithGaps++
	case NotReady:
		c.NotReady++
	case OutOfService:
		c.OutOfService++
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
	stationOf := map[string]string{}
	hidden := func(station string) bool { return !slices.Contains(stations, station) }
	rep.ClockLeft = false
	for _, v := range g.Bags {
		stationOf[v.Bag.Code] = v.Bag.AtStation
		rep.ClockLeft = rep.ClockLeft || !hidden(v.Bag.AtStation) && rep.AsOf != 0 && rep.AsOf != v.Station.Today(now)
	}
	rep.Rows = slices.DeleteFunc(rep.Rows, func(x ShortageRow) bool { return hidden(x.Station) })
	rep.Fill = slices.DeleteFunc(rep.Fill, func(x Fill) bool { return hidden(stationOf[x.Bag]) })
	rep.Buy = slices.DeleteFunc(rep.Buy, func(x Buy) bool { return hidden(x.Station) })
	rep.FirstStops = slices.DeleteFunc(rep.FirstStops, func(x FirstStop) bool { return hidden(stationOf[x.Bag]) })
	rep.States = slices.DeleteFunc(rep.States, func(x BagState) bool { return hidden(x.Station) })
	rep.Bags = countBags(rep.States)
	return rep
}
