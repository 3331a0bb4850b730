package web

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/report"
)

type todayPage struct {
	Base
	Reports, Stations []NavLink
	Today             []StationDay
	Span              []NavLink // how many days ahead
	Days              int
	Figures           []Figure
	Bars              []StationBar
	Shown, Rest       int // bars, and stations that have none to show
	Stops             []StopGroup
	Unshown           int // stops that All shows
	All               string
	Buy               []BuyGroup
	Unbought          int // items to buy that All shows
	Waits             []WaitRow
	Long              int // days that something may wait
}

// StationBar is the bags of one station by state; its parts are in per cent.
type StationBar struct {
	Name, Href                   string
	Cannot, OK, All              int
	NotReadyTo, OutTo, GapsTo    string // where each ends
	NotReady, OutWide, ReadyWide string
}

// StopGroup is bags that stop on one day, for one reason, and are mended alike.
type StopGroup struct {
	report.Stop
	Because message.Message
	Mended  message.Message
	Href    string // to do so
	OwnCan  bool   // the store of their own station
	Bags    []report.Stop
}

// BuyGroup is what to buy from one supplier, with what drafts it.
type BuyGroup struct {
	Supplier, Key string
	Rows          []ToBuy
	Lead          int            // days, the longest
	Total         []money.Amount // of what has a price
	Lines         []string       // station, product, packs, and what is on order, as draftOrders takes them
	May           bool
}

// ToBuy is one item to buy for all stations of the page together.
type ToBuy struct {
	order.ToBuy
	Name  string
	Total money.Amount
}

// WaitRow is something that waits, and where to see to it.
type WaitRow struct {
	Text message.Message
	Href string
	report.Wait
	Station string
}

// todayRows is how many rows of each list the first screen has; a month ahead is looked at if nobody asks for more.
const todayRows = 20

var todaySpans = []int{7, inventory.DefaultHorizonDays, 90, 365}

func (s *server) showToday(v *visit) error {
	only, chosen := v.stationsAsked()
	f := openForm(v.Request.URL.Query())
	days := inventory.DefaultHorizonDays
	if n := f.number("days"); slices.Contains(todaySpans, n) {
		days = n
	}
	a, err := s.svc.Report.Ahead(v.ctx(), v.actor, only, days)
	if err != nil {
		return err
	}
	p := &todayPage{Base: Base{Title: message.M("Today"), Caution: true}, Reports: reportLinks("/today"),
		Today: v.today(only), Days: days, Long: report.LongWait}
	if chosen != "" || len(v.stations()) <= fewStations {
		p.Stations = v.allStationLinks("/today", chosen)
	}
	at := func(path string, more url.Values) string {
		if more == nil {
			more = url.Values{}
		}
		if chosen != "" {
			more.Set("station", chosen)
		}
		if len(more) > 0 {
			path += "?" + more.Encode()
		}
		return path
	}
	for _, n := range todaySpans {
		p.Span = append(p.Span, NavLink{at("/today", url.Values{"days": {strconv.Itoa(n)}}), message.M("{1} {1|day|days}", n),
			n == days})
	}
	all := v.Query("all") != ""
	p.bars(v, a.At, all)
	p.stops(v, a, all)
	p.All = at("/today", url.Values{"days": {strconv.Itoa(days)}, "all": {"yes"}})
	buy, err := s.svc.Order.Plan(v.ctx(), v.actor, a.Buy)
	if err != nil {
		return err
	}
	p.buy(v, buy)
	items := p.cutBuy(all)
	for _, w := range a.Waits {
		p.Waits = append(p.Waits, waitRow(v, w))
	}
	soon := 0
	for _, x := range a.Stops {
		if !x.Now {
			soon++
		}
	}
	n := a.Bags
	p.Figures = []Figure{
		{n.Ready + n.ReadyWithGaps, message.M("{1|bag|bags} OK to go out", n.Ready+n.ReadyWithGaps), "#stations", false},
		{n.NotReady, message.M("not ready"), at("/year", url.Values{"week": {a.AsOf.String()}}) + "#bags", true},
		{n.OutOfService, message.M("out of service"), at("/year", url.Values{"week": {a.AsOf.String()}}) + "#bags", true},
		{soon, message.M("more {1|stops|stop} within {2} {2|day|days}", soon, days), "#stops", true},
		{items, message.M("{1|item|items} to buy", items), "#buy", false},
		{len(a.Waits), message.M("open over {1} {1|day|days}", report.LongWait), "#waits", true},
	}
	return s.render(v, http.StatusOK, p)
}

// bars counts the bags of each station by state, the worst first.
func (p *todayPage) bars(v *visit, at map[string]inventory.BagCounts, all bool) {
	for _, st := range v.stations() {
		c, ok := at[st.Code]
		if !ok {
			continue
		}
		b := StationBar{Name: st.Name, Href: "/report?station=" + url.QueryEscape(st.Code),
			Cannot: c.NotReady + c.OutOfService, OK: c.Ready + c.ReadyWithGaps}
		b.All = b.Cannot + b.OK
		b.NotReady, b.NotReadyTo = percent(c.NotReady, b.All), percent(c.NotReady, b.All)
		b.OutWide, b.OutTo = percent(c.OutOfService, b.All), percent(b.Cannot, b.All)
		b.GapsTo = percent(b.Cannot+c.ReadyWithGaps, b.All)
		b.ReadyWide = percent(c.Ready, b.All)
		p.Bars = append(p.Bars, b)
	}
	slices.SortStableFunc(p.Bars, func(a, b StationBar) int { return cmp.Compare(b.Cannot, a.Cannot) })
	if !all && len(p.Bars) > todayRows {
		p.Bars, p.Rest = p.Bars[:todayRows], len(p.Bars)-todayRows
	}
	p.Shown = len(p.Bars)
}

// stops gathers bags that stop on one day for one reason.
func (p *todayPage) stops(v *visit, a report.Ahead, all bool) {
	type key struct {
		now     bool
		on, by  inventory.Day
		item    string
		why     string // of what is not ready now
		means   report.Means
		station string
	}
	index := map[key]int{}
	for _, x := range a.Stops {
		k := key{x.Now, x.On, x.OrderBy, x.Item, "", x.Means, x.From}
		if x.Now {
			k.why = x.Text.String()
		}
		i, ok := index[k]
		if !ok {
			i = len(p.Stops)
			index[k] = i
			g := StopGroup{Stop: x, OwnCan: x.Means == report.ByStore, Mended: mended(v, x, a.AsOf),
				Because: message.Plain(nameOf(v.itemsByCode(), x.Item))}
			if x.Now {
				g.Because = x.Text
			}
			p.Stops = append(p.Stops, g)
		}
		p.Stops[i].Bags = append(p.Stops[i].Bags, x)
	}
	for i := range p.Stops {
		p.Stops[i].Href = p.Stops[i].where(a.Through)
	}
	if !all && len(p.Stops) > todayRows {
		p.Unshown, p.Stops = len(p.Stops)-todayRows, p.Stops[:todayRows]
	}
}

// where is where the bags are seen to: a bag alone on its page, others in the report of their station, or of all.
func (g StopGroup) where(through inventory.Day) string {
	if g.Means == report.ByPerson && len(g.Bags) == 1 {
		return bagPath(g.Bag)
	}
	q := url.Values{}
	if !g.Now {
		q.Set("as_of", through.String())
	}
	if !slices.ContainsFunc(g.Bags, func(b report.Stop) bool { return b.Station != g.Station }) {
		q.Set("station", g.Station)
	}
	return "/report?" + q.Encode()
}

// mended says how a bag that stops is kept ready.
func mended(v *visit, x report.Stop, today inventory.Day) message.Message {
	switch {
	case x.Means == report.ByStore:
		return message.M("Yes")
	case x.Means == report.ByTransfer:
		return message.M("From {1}", v.station(x.From).Name)
	case x.Means == report.ByPerson:
		return message.M("See the bag")
	case x.Late() > 0:
		return message.M("No: {1} {1|day|days} late if ordered today", x.Late())
	case x.OrderNow(today):
		return message.M("No: order today")
	}
	return message.M("No: order by {1}", x.OrderBy)
}

// buy sums up purchases by supplier; they come in the order of suppliers.
func (p *todayPage) buy(v *visit, buy []order.ToBuy) {
	for _, b := range buy {
		if last := len(p.Buy) - 1; last < 0 || p.Buy[last].Supplier != b.Supplier {
			p.Buy = append(p.Buy, BuyGroup{Supplier: b.Supplier, Key: newKey(), May: v.may(inventory.ActOrder)})
		}
		p.Buy[len(p.Buy)-1].add(b, nameOf(v.itemsByCode(), b.Item))
	}
}

// add adds what one station has to buy.
func (g *BuyGroup) add(b order.ToBuy, name string) {
	total := b.Price.Times(b.Packs)
	g.Lead, g.Total = max(g.Lead, b.LeadDays), money.Sum(append(g.Total, total))
	if b.Packs > 0 && g.Supplier != "" {
		g.Lines = append(g.Lines, fmt.Sprint(b.Station, " ", b.Product, " ", b.Packs, " ", b.OnOrder))
	}
	if i := slices.IndexFunc(g.Rows, func(x ToBuy) bool { return x.Item == b.Item }); i >= 0 {
		x := &g.Rows[i]
		x.Qty, x.Packs, x.OnOrder, x.Total.Minor = x.Qty+b.Qty, x.Packs+b.Packs, x.OnOrder+b.OnOrder,
			x.Total.Minor+total.Minor
		return
	}
	g.Rows = append(g.Rows, ToBuy{b, name, total})
}

// cutBuy keeps the first items, and returns how many there were.
func (p *todayPage) cutBuy(all bool) int {
	n := 0
	for i := range p.Buy {
		rows := &p.Buy[i].Rows
		if had := len(*rows); !all {
			*rows = (*rows)[:min(had, max(0, todayRows-n))]
			n += had
			p.Unbought += had - len(*rows)
		} else {
			n += had
		}
	}
	p.Buy = slices.DeleteFunc(p.Buy, func(g BuyGroup) bool { return len(g.Rows) == 0 })
	return n
}

func waitRow(v *visit, w report.Wait) WaitRow {
	row := WaitRow{Wait: w, Station: v.station(w.Station).Name}
	switch w.Kind {
	case report.WaitReport:
		row.Text, row.Href = message.M("{1}: report to review", w.Bag), bagPath(w.Bag)
	case report.WaitTransfer:
		row.Text, row.Href = message.M("Transfer {1}, not received", w.ID), "/transfers/"+formatID(w.ID)
	case report.WaitAway:
		row.Text, row.Href = message.M("{1}: due back", w.Name), "/away?station="+url.QueryEscape(w.Station)
	}
	if !v.may(inventory.ActKeepStock) && w.Kind == report.WaitTransfer {
		row.Href = ""
	}
	return row
}
