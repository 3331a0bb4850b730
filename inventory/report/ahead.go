package report

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// Ahead answers one question: what stops within some days, and what then? Rows, fill and purchases are those of the
// last of these days: who carries them out keeps every bag at its list until then.
type Ahead struct {
	AsOf        inventory.Day           `json:"as_of" format:"date" doc:"Today, at the station where it is latest"`
	Through     inventory.Day           `json:"through" format:"date" doc:"The last day looked at"`
	HorizonDays int                     `json:"horizon_days"`
	Bags        inventory.BagCounts     `json:"bags" doc:"Now"`
	Stops       []Stop                  `json:"stops" doc:"Bags that stop by then if nobody acts, first first"`
	Rows        []inventory.ShortageRow `json:"rows"`
	Fill        []inventory.Fill        `json:"fill"`
	Buy         []inventory.Buy         `json:"buy"`

	At    map[string]inventory.BagCounts `json:"-"` // bags now, by station
	Waits []Wait                         `json:"-"`
}

// Means is how a bag that stops can be kept ready.
type Means string

// The means, the quickest first.
const (
	ByStore    Means = "store"    // its own station's store has what it lacks
	ByTransfer Means = "transfer" // another station's has the rest
	ByOrder    Means = "order"    // no store has it
	ByPerson   Means = "person"   // no stock is missing: somebody has to look
)

// Stop is a bag that stops.
type Stop struct {
	Bag     string          `json:"bag"`
	Name    string          `json:"name"`
	Station string          `json:"station"`
	On      inventory.Day   `json:"on" format:"date" doc:"The first day on which it will not be ready; today for now"`
	Now     bool            `json:"now,omitempty" doc:"It is not ready already"`
	Text    message.Message `json:"text" doc:"Why"`
	LotID   int64           `json:"lot_id,omitempty" doc:"What ends the day before"`
	Item    string          `json:"item,omitempty" doc:"Item code of that"`
	Means   Means           `json:"means" enum:"store,transfer,order,person"`
	From    string          `json:"from,omitempty" doc:"Station that has some of it"`
	Missing []string        `json:"missing,omitempty" doc:"Items that no store has"`
	MendOn  inventory.Day   `json:"mend_on" format:"date" doc:"The earliest day: today, or when an order of today comes"`
	OrderBy inventory.Day   `json:"order_by,omitempty" format:"date" doc:"The last day to order, to have it in time"`
}

// Late is by how many days an order of today comes too late, 0 for none.
func (s Stop) Late() int { return max(0, int(s.MendOn-s.On)) }

// OrderNow tells whether an order of today is the last that comes in time, or comes too late already.
func (s Stop) OrderNow(today inventory.Day) bool { return s.OrderBy <= today }

// StopsOf lists the bags that stop by a day, from what the report of now says and that of the day.
func StopsOf(g inventory.ReportInput, now, then inventory.Shortages, today, through inventory.Day) []Stop {
	out := []Stop{}
	first := map[string]inventory.FirstStop{}
	for _, f := range now.FirstStops {
		first[f.Bag] = f
	}
	views := map[string]inventory.BagView{}
	for _, v := range g.Bags {
		views[v.Bag.Code] = v
	}
	for _, b := range now.States {
		f, stops := first[b.Bag]
		s := Stop{Bag: b.Bag, Name: b.Name, Station: b.Station, On: f.On, LotID: f.LotID, Text: b.Headline,
			Now: b.State == inventory.NotReady, Means: ByPerson, MendOn: today}
		switch v := views[b.Bag]; {
		case b.Inside != "": // it stops the bag that it is in
			continue
		case !s.Now && (!stops || f.On > through):
			continue
		case s.Now:
			s.On = today
		default:
			s.Item, s.Text = endsIn(v, f.LotID)
		}
		mending := then.Mending
		if s.Now {
			mending = now.Mending // whether it lasts is another question
		}
		if m, short := mendingOf(views[b.Bag], mending); short {
			s.mend(m, g, today)
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Stop) int {
		return cmp.Or(cmp.Compare(a.On, b.On), -inventory.CompareBool(a.Now, b.Now), cmp.Compare(a.Station, b.Station),
			cmp.Compare(a.Bag, b.Bag))
	})
	return out
}

// mendingOf is what brings a bag and the modules in it to their minimums.
func mendingOf(v inventory.BagView, by map[string]inventory.Mending) (all inventory.Mending, short bool) {
	for _, part := range append([]inventory.BagView{v}, v.Modules...) {
		m, lacks := by[part.Bag.Code]
		all.From, all.Missing, short = cmp.Or(all.From, m.From), append(all.Missing, m.Missing...), short || lacks
	}
	return all, short
}

// endsIn says what of a bag, or of a module in it, ends and stops it.
func endsIn(v inventory.BagView, lot int64) (string, message.Message) {
	for _, part := range append([]inventory.BagView{v}, v.Modules...) {
		for _, st := range part.Stock {
			if st.Lot.ID == lot {
				name := cmp.Or(part.Items[st.Lot.Item].Name, st.Lot.Item)
				return st.Lot.Item, inventory.UnitsOf(st.Qty, name, st.Lot)
			}
		}
	}
	return "", nil
}

func (s *Stop) mend(m inventory.Mending, g inventory.ReportInput, today inventory.Day) {
	s.Means, s.From, s.Missing = ByStore, g.StationOf[m.From], m.Missing
	if m.From != "" {
		s.Means = ByTransfer
	}
	if len(m.Missing) == 0 {
		return
	}
	lead := 0
	for _, item := range m.Missing {
		lead = max(lead, g.Items[item].LeadTimeDays)
	}
	s.Means, s.MendOn, s.OrderBy = ByOrder, today.AddDays(lead), max(today, s.On.AddDays(-lead))
}

// Wait is something that waits for somebody for longer than LongWait.
type Wait struct {
	Kind    WaitKind
	Station string
	Since   inventory.Day       // recorded, asked for, or due back
	Report  inventory.ReportKey // to review, of Bag
	Bag     string
	ID      int64  // of a transfer
	Place   string // of what is away
	Name    string
}

// WaitKind is what waits.
type WaitKind string

// What can wait.
const (
	WaitReport   WaitKind = "report"   // to review
	WaitTransfer WaitKind = "transfer" // asked for or sent, and not received
	WaitAway     WaitKind = "away"     // due back
)

// LongWait is how many days something may wait before a manager reads of it.
const LongWait = 7

// Ahead looks some days ahead for the actor's stations, or for some; plans are made for all of them. Refuses: Forbidden
// without report, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Ahead(ctx context.Context, by inventory.Actor, stations []string, days int) (Ahead, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) (Ahead, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return Ahead{}, err
		}
		g, err := lists.LoadReportInput(r, inventory.ForIssue, nil)
		if err != nil {
			return Ahead{}, err
		}
		at := s.now()
		a := Ahead{HorizonDays: days}
		for _, st := range g.Stations {
			a.AsOf = max(a.AsOf, st.Today(at))
		}
		a.Through = a.AsOf.AddDays(days)
		now := inventory.ShortagesOf(g, at, 0, inventory.DefaultHorizonDays).Only(g, seen, at)
		then := inventory.ShortagesOf(g, at, a.Through, 0).Only(g, seen, at)
		a.Rows, a.Fill, a.Buy, a.At, a.Bags = then.Rows, then.Fill, then.Buy, now.At, now.Bags
		a.Stops = StopsOf(g, now, then, a.AsOf, a.Through)
		a.Waits, err = waits(r, g.Bags, seen, at)
		return a, err
	})
}

// waits lists what waits for too long, the longest first.
func waits(r inventory.Reader, bags []inventory.BagView, seen []string, now inventory.Instant) ([]Wait, error) {
	var out []Wait
	var errs [5]error
	var zones map[string]inventory.Station
	zones, errs[0] = lists.StationsByCode(r)
	add := func(w Wait) {
		if zones[w.Station].Today(now) > w.Since.AddDays(LongWait) {
			out = append(out, w)
		}
	}
	at := map[string]string{}
	for _, v := range bags {
		at[v.Bag.Code] = v.Bag.AtStation
	}
	reports, err := r.UnderReview(inventory.UnderReviewFilter{AtStations: seen})
	errs[1] = err
	for _, u := range reports {
		// it also says something of other bags, whose units it says were used
		if station, ok := at[u.Bag]; ok && (len(seen) == 0 || slices.Contains(seen, station)) {
			add(Wait{Kind: WaitReport, Station: station, Since: zones[station].Today(u.RecordedAt), Report: u.ReportKey,
				Bag: u.Bag})
		}
	}
	docs, err := r.Documents(inventory.DocumentFilter{Kind: inventory.DocTransfer, Stations: seen, Open: true},
		inventory.Page{})
	errs[2] = err
	for _, d := range docs {
		add(Wait{Kind: WaitTransfer, Station: d.Other, Since: zones[d.Other].Today(d.OpenedAt), ID: d.ID})
	}
	places, err := r.Places(inventory.PlaceFilter{Stations: seen, Kind: inventory.KindAway}, inventory.Page{})
	errs[3] = err
	stock, err := r.Stock(inventory.StockFilter{Stations: seen, Kinds: []inventory.PlaceKind{inventory.KindAway}})
	errs[4] = err
	for _, p := range places {
		there := func(st inventory.Stock) bool { return st.Place == p.Code }
		if p.DueBack != 0 && slices.ContainsFunc(stock, there) {
			add(Wait{Kind: WaitAway, Station: p.Station, Since: p.DueBack, Place: p.Code, Name: p.Name})
		}
	}
	slices.SortStableFunc(out, func(a, b Wait) int { return cmp.Compare(a.Since, b.Since) })
	return out, cmp.Or(errs[:]...)
}
