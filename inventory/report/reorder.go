package report

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/money"
	ordering "stowkeeper/inventory/order"
	"stowkeeper/inventory/reorder"
	"stowkeeper/inventory/scope"
)

// ReorderPolicy is what the owner decides about how much to hold: how often somebody looks at what to order, and the
// share of the times between deliveries in which nothing is missing, for items on a critical line and for others.
type ReorderPolicy struct {
	ReviewDays      int
	Critical, Other float64 // below 1
}

// Where the owner decides nothing.
const (
	ReviewDays      = 7
	CriticalService = 0.99
	OtherService    = 0.95
)

func (p ReorderPolicy) orDefault() ReorderPolicy {
	return ReorderPolicy{cmp.Or(p.ReviewDays, ReviewDays), cmp.Or(p.Critical, CriticalService),
		cmp.Or(p.Other, OtherService)}
}

// Reorder is what one station should order of an item.
type Reorder struct {
	Station    string       `json:"station"`
	Item       string       `json:"item"`
	Critical   bool         `json:"critical,omitempty" doc:"On a critical line of a bag there"`
	TooFewData bool         `json:"too_few_data,omitempty" doc:"To say how use comes: only what bags lack is ordered"`
	Usable     int          `json:"usable" doc:"In the stores, and outlasting lead time and review"`
	OnOrder    int          `json:"on_order" doc:"Drafts among it"`
	Owed       int          `json:"owed" doc:"Units that bags there lack to par"`
	Position   int          `json:"position" doc:"Usable and on order, less owed"`
	Demand     float64      `json:"demand" doc:"Units expected to be used over lead time and review"`
	Target     int          `json:"target" doc:"Fewest units to hold and have on order that reach the service level"`
	Service    float64      `json:"service,omitempty" doc:"The service level that the target has to reach"`
	NoStockOut float64      `json:"no_stock_out,omitempty" doc:"Of the target: chance that none is missing"`
	FillRate   float64      `json:"fill_rate,omitempty" doc:"Of the target: share of the units wanted that are there"`
	Qty        int          `json:"qty" doc:"Units to order"`
	Packs      int          `json:"packs,omitempty" doc:"Whole packs of the preferred product"`
	PackSize   int          `json:"pack_size,omitempty"`
	Product    int64        `json:"product,omitempty"`
	LeftOut    int          `json:"left_out,omitempty" doc:"Units that are wanted, and would end before they are used"`
	Supplier   string       `json:"supplier,omitempty"`
	LeadDays   int          `json:"lead_days,omitempty"`
	Total      money.Amount `json:"total,omitzero" doc:"Packs times the price in force"`
}

// Reorders is the report of what to order.
type Reorders struct {
	AsOf       inventory.Day  `json:"as_of" format:"date"`
	ReviewDays int            `json:"review_days" doc:"Days from one look at what to order to the next"`
	Critical   float64        `json:"service_critical" doc:"Service level of critical items"`
	Other      float64        `json:"service_other" doc:"Of other items"`
	Rows       []Reorder      `json:"rows" doc:"By station and item"`
	Total      []money.Amount `json:"total" doc:"By currency"`
}

// reordering is what the report is made of, on a day.
type reordering struct {
	inventory.ReportInput
	policy ReorderPolicy
	day    inventory.Day
	coming map[ordering.At]int
	lasts  map[string]int // days that an item lasts when it comes
}

// ReordersOf makes the report for a day: of each item with use recorded at a station how much brings what it holds and
// has on order to its target, no more than is used before it ends; where too little is known, and for what was never
// used, only what the shortage report would buy, less what is on order.
func ReordersOf(g inventory.ReportInput, rep inventory.Shortages, uses []Expected, coming map[ordering.At]int,
	policy ReorderPolicy, day inventory.Day) Reorders {
	x := reordering{g, policy.orDefault(), day, coming, lasting(g)}
	out := Reorders{AsOf: day, ReviewDays: x.policy.ReviewDays, Critical: x.policy.Critical, Other: x.policy.Other,
		Rows: []Reorder{}}
	rows := map[ordering.At]*Reorder{}
	row := func(station, item string) *Reorder {
		at := ordering.At{Station: station, Item: item}
		if rows[at] == nil {
			rows[at] = x.begin(at)
		}
		return rows[at]
	}
	for _, s := range rep.Rows {
		if s.Item != "" {
			row(s.Station, s.Item).Owed += s.Shortfall
		}
	}
	for _, u := range uses {
		if r := row(u.Station, u.Item); !u.Thin {
			r.TooFewData = false
			x.judge(r, u.Use)
		}
	}
	for _, b := range ordering.StillToBuy(rep.Buy, coming, g.Items, g.Products, day) {
		if r := row(b.Station, b.Item); r.TooFewData {
			r.Qty, r.Packs = max(b.Qty, b.Packs*b.PackSize), b.Packs
		}
	}
	for _, r := range rows {
		r.Position = r.Usable + r.OnOrder - r.Owed
		r.Total = g.Products[r.Product].PriceIn(day).Times(r.Packs)
		out.Rows = append(out.Rows, *r)
	}
	slices.SortFunc(out.Rows, func(a, b Reorder) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Item, b.Item))
	})
	out.add()
	return out
}

func (out *Reorders) add() {
	var all []money.Amount
	for _, r := range out.Rows {
		all = append(all, r.Total)
	}
	out.Total = append([]money.Amount{}, money.Sum(all)...)
}

// begin is a row with what the station has, before anything is judged.
func (x reordering) begin(at ordering.At) *Reorder {
	it := x.Items[at.Item]
	pr := x.Products[it.PreferredProduct]
	r := &Reorder{Station: at.Station, Item: at.Item, TooFewData: true, OnOrder: x.coming[at], PackSize: pr.PackSize,
		Product: pr.ID, Supplier: pr.Supplier, LeadDays: it.LeadTimeDays}
	for _, v := range x.Bags {
		for _, l := range v.List.Lines {
			r.Critical = r.Critical || v.Bag.AtStation == at.Station && l.Item == at.Item && l.Critical
		}
	}
	r.Usable = reorder.Position(x.lots(at), it.LeadTimeDays+x.policy.ReviewDays, 0, 0)
	return r
}

// lots are what the stores of a station hold of an item, by the days that it can still be used.
func (x reordering) lots(at ordering.At) (out []reorder.Lot) {
	for _, st := range x.Stores {
		it := x.Items[at.Item]
		if st.Lot.Item != at.Item || x.StationOf[st.Place] != at.Station ||
			!inventory.Usable(it, st.Lot, x.day, inventory.ForIssue) {
			continue
		}
		through := forever
		if end := inventory.UsableThrough(it, st.Lot, x.day); end != 0 {
			through = int(end-x.day) + 1 // the first day is 1
		}
		out = append(out, reorder.Lot{Qty: st.Qty, Through: through})
	}
	return out
}

// forever is how many days something lasts that has no date.
const forever = 36500

// judge finds the target of an item, and what brings the station there. Its use is that of a week.
func (x reordering) judge(r *Reorder, week reorder.Use) {
	r.Service = x.policy.Other
	if r.Critical {
		r.Service = x.policy.Critical
	}
	terms := reorder.Terms{Use: week.Over(1. / 7), Lead: float64(r.LeadDays), Review: float64(x.policy.ReviewDays)}
	level := terms.BaseStock(reorder.ByNoStockOut, r.Service)
	r.Demand, r.Target, r.NoStockOut, r.FillRate = terms.Cover().Mean, level.Units, level.NoStockOut, level.FillRate
	lasts := cmp.Or(x.lasts[r.Item], forever)
	stock := x.lots(ordering.At{Station: r.Station, Item: r.Item})
	if r.OnOrder > 0 {
		stock = append(stock, reorder.Lot{Qty: r.OnOrder, Through: lasts})
	}
	_, most := reorder.Cap(stock, terms.Use.Mean, lasts)
	pack := max(1, r.PackSize)
	need := reorder.Need{Units: r.Target - (r.Usable + r.OnOrder - r.Owed), Most: min(most, inventory.MaxQty) + r.Owed}
	o := reorder.OrderOf([]reorder.Need{need}, pack, x.Products[r.Product].MinimumPacks*pack)
	r.Qty, r.LeftOut = o.Packs*pack, o.Missing
	if r.Product != 0 {
		r.Packs = o.Packs
	}
}

// lasting is how many days each item lasts when it comes: the middle of what is there, as it was received. Items
// without a date are not in it.
func lasting(g inventory.ReportInput) map[string]int {
	days, seen := map[string][]int{}, map[int64]bool{}
	add := func(st inventory.Stock) {
		end := inventory.UsableThrough(g.Items[st.Lot.Item], st.Lot, st.Lot.ReceivedOn)
		if n := int(end - st.Lot.ReceivedOn); end != 0 && st.Lot.ReceivedOn != 0 && n > 0 && !seen[st.Lot.ID] {
			days[st.Lot.Item] = append(days[st.Lot.Item], n)
		}
		seen[st.Lot.ID] = true
	}
	for _, st := range g.Stores {
		add(st)
	}
	for _, v := range g.Bags {
		for _, st := range v.Stock {
			add(st)
		}
	}
	out := map[string]int{}
	for item, all := range days {
		slices.Sort(all)
		out[item] = all[len(all)/2]
	}
	return out
}

// Reorder reports what the actor's stations, or some, should order, as of a day, 0 for today where it is latest.
// Refuses: Forbidden without report, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Reorder(ctx context.Context, by inventory.Actor, stations []string, asOf inventory.Day) (Reorders,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) (Reorders, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return Reorders{}, err
		}
		g, err1 := lists.LoadReportInput(r, inventory.ForIssue, nil) // the plan needs the needs of every station
		used, err2 := usedOf(r, s.now())
		coming, err3 := ordering.OnOrder(r, nil)
		if err := cmp.Or(err1, err2, err3); err != nil {
			return Reorders{}, err
		}
		today := inventory.Day(0)
		for _, st := range g.Stations {
			today = max(today, st.Today(s.now()))
		}
		rep := inventory.ShortagesOf(g, s.now(), asOf, 0)
		out := ReordersOf(g, rep, ExpectedOf(used, today), coming, s.Policy, cmp.Or(asOf, today))
		out.Rows = slices.DeleteFunc(out.Rows, func(x Reorder) bool {
			return len(seen) > 0 && !slices.Contains(seen, x.Station)
		})
		out.add()
		return out, nil
	})
}
