package web

import (
	"net/http"
	"net/url"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/report"
	"stowkeeper/web/text"
)

type yearPage struct {
	Base
	Reports, Stations []NavLink
	Today             []StationDay
	CSV               string
	Months            []MonthMark
	Bags              []YearRow
	Ends              []YearEnd
	All               int           // bags, of which some are shown
	More              string        // shows them all
	Down              inventory.Day // the day that the list is about, 0 for the whole year
	Near              string        // how far the next 30 days reach
	Whole             string        // the list of the whole year
	Chart             *YearChart    // none until it is computed
	Failed            bool          // to compute it
}

// MonthMark is where a month begins in the picture, in per cent.
type MonthMark struct {
	At   string
	Text message.Message
	Year string // at the first mark and in January
}

// YearRow is one bag's year, drawn and in words.
type YearRow struct {
	report.BagYear
	Now   inventory.State
	Lot   message.Message
	Href  string
	Drawn []DrawnSpan
}

// DrawnSpan is a state's part of the strip, in per cent.
type DrawnSpan struct {
	State         inventory.State
	At, End, Wide string
}

// YearEnd is one governing date.
type YearEnd struct {
	report.EndInBag
	Bag, Name string
	Label     message.Message
	Href      string
}

// yearBags is how many bags the year shows at first.
const yearBags = 10

func (s *server) showYear(v *visit) error {
	only, chosen := v.stationsAsked()
	ask := report.YearAsk{Stations: only, First: yearBags, Weeks: true}
	if v.Query("all") != "" {
		ask.First = 0
	}
	f := openForm(v.Request.URL.Query())
	ask.Down = f.day("week")
	if err := f.err(); err != nil {
		return err
	}
	items := v.itemsByCode() // before the year, which is waited for without what the page looks at
	year, err := s.svc.Report.YearAhead(v.ctx(), v.actor, ask)
	if err != nil {
		return err
	}
	p := &yearPage{Base: Base{Title: message.M("Year ahead"), Caution: true}, Reports: reportLinks("/year"),
		Stations: v.allStationLinks("/year", chosen), Today: v.today(only), CSV: csvHref("/year.csv", v),
		All: year.All, Down: ask.Down, Near: percent(inventory.DefaultHorizonDays, report.YearDays)}
	for _, b := range year.Bags {
		p.add(b, items)
	}
	if p.Whole = "/year"; chosen != "" {
		p.Whole += "?station=" + url.QueryEscape(chosen)
	}
	if q := v.Request.URL.Query(); len(p.Bags) < p.All {
		q.Set("all", "yes")
		p.More = "/year?" + q.Encode() + "#bags"
	}
	switch p.Chart = yearChart(year, chosen, v.ownStation()); {
	case p.Chart != nil || year.All == 0:
	case year.At != 0:
		p.Failed = true
	default:
		p.Refresh = 10
	}
	return s.render(v, http.StatusOK, p)
}

func (s *server) yearAhead(v *visit) (report.YearAhead, error) {
	only, _ := v.stationsAsked()
	return s.svc.Report.YearAhead(v.ctx(), v.actor, report.YearAsk{Stations: only})
}

// add draws a bag's year and lists its dates.
func (g *yearPage) add(b report.BagYear, items map[string]inventory.Item) {
	row := YearRow{BagYear: b, Now: b.Spans[0].State}
	g.Months = monthMarks(b)
	for _, sp := range b.Spans {
		row.Drawn = append(row.Drawn, DrawnSpan{sp.State, share(b, sp.From), share(b, sp.Until.AddDays(1)),
			percent(int(sp.Until-sp.From)+1, days(b))})
	}
	for _, e := range b.Ends {
		end := YearEnd{e, b.Bag, nameOf(items, e.Item), lotLabel(e.BatchNo, e.Serial), "/lots/" + formatID(e.LotID)}
		g.Ends = append(g.Ends, end)
		if e.LotID == b.StopLot {
			row.Lot, row.Href = message.M("{1}, {2}", end.Name, end.Label), end.Href
		}
	}
	g.Bags = append(g.Bags, row)
}

func days(b report.BagYear) int { return int(b.Until-b.From) + 1 }

// share is how far a day lies from the beginning of a bag's year.
func share(b report.BagYear, day inventory.Day) string { return percent(int(day-b.From), days(b)) }

// percent writes a part of a whole for a picture, to a tenth.
func percent(part, whole int) string {
	return strconv.FormatFloat(float64(part)*100/float64(max(whole, 1)), 'f', 1, 64) + "%"
}

func monthMarks(b report.BagYear) []MonthMark {
	var out []MonthMark
	for day := b.From; day <= b.Until; day++ {
		y, m, d := day.Date()
		if d != 1 {
			continue
		}
		mark := MonthMark{At: share(b, day), Text: text.Months[m]}
		if len(out) == 0 || m == 1 {
			mark.Year = strconv.Itoa(y)
		}
		out = append(out, mark)
	}
	return out
}

func (s *server) yearCSV(v *visit) error {
	year, err := s.yearAhead(v)
	if err != nil {
		return err
	}
	table := [][]string{{"station", "bag", "last_usable_day", "item", "item_name", "batch", "serial", "units",
		"bag_state_next_day", "bag_stops_on"}}
	for _, b := range year.Bags {
		for _, e := range b.Ends {
			table = append(table, []string{b.Station, b.Bag, e.On.String(), e.Item, nameOf(v.itemsByCode(), e.Item),
				e.BatchNo, e.Serial, strconv.Itoa(e.Qty), string(e.After), b.StopsOn.String()})
		}
	}
	return v.sendCSV("year-ahead", table)
}
