package web

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

type reportPage struct {
	Base
	Reports             []NavLink
	Days                []StationDay
	KitLists            KitLists
	AsOf                inventory.Day // the day asked about, 0 for each station's today
	Horizon             int
	Station, Day, Ahead Field
	Bags                []StateCount
	Stations            []StationReport // of few
	Each                []StationLine   // of many
	CSV                 []NavLink
	Clock               bool // overdue checks were left out
}

// StationLine is one of many stations in the shortage report.
type StationLine struct {
	Code, Name string
	Href       string
	inventory.BagCounts
	Below, Short, Buy int // lines under their minimum, lines short in all, items to buy
}

// StationReport is the shortage report of one station.
type StationReport struct {
	inventory.Station
	Rows  []ShortGroup
	Fill  []FillRow
	Buy   []BuyRow
	Stops []StopRow
	Bags  []inventory.BagSummary

	Troubles []RegisterLink
	Offers   []TransferOffer // what other stations can send, for who may ask them
}

// ShortGroup is the missing lines of one severity: those that stop a bag and
// are critical, those that stop it, and gaps.
type ShortGroup struct {
	Stops, Critical bool
	Rows            []ShortRow
}

// ShortRow is a line of a bag that holds less than was asked for.
type ShortRow struct {
	inventory.ShortageRow
	Name string
}

// FillRow is something to put into a bag.
type FillRow struct {
	inventory.Fill
	Name     string
	Label    message.Message
	Transfer bool
}

// BuyRow is something to buy.
type BuyRow struct {
	inventory.Buy
	Name string
}

// StopRow is a bag that will stop being ready, and what causes it.
type StopRow struct {
	inventory.FirstStop
	Lot message.Message
}

// maxHorizon is how far ahead a report looks at most, in days.
const maxHorizon = 3660

func (s *server) showReport(v *visit) error {
	f := openForm(v.Request.URL.Query())
	ask := f.ask()
	only, chosen := v.stationsAsked()
	failed := f.err()
	rep, err := s.svc.Report.Shortages(v.ctx(), v.actor, only, ask)
	if err != nil {
		return err
	}
	p := &reportPage{Base: Base{Title: message.M("Shortages"), Caution: true}, Reports: reportLinks("/report"),
		AsOf: rep.AsOf, Horizon: rep.HorizonDays, Clock: rep.ClockLeft, Days: v.today(only), Bags: statesCounted(rep.Bags),
		CSV: csvLinks(chosen, ask), KitLists: v.kitLists()}
	p.Station = v.anyStation(f)
	p.Day = f.field("as_of", message.M("As of"))
	p.Day.Kind, p.Day.Empty = "date", message.M("today")
	p.Ahead = f.numberField("horizon_days", message.M("Days ahead"))
	p.Ahead.Empty = message.M("default")
	if p.Ahead.Value == "" {
		p.Ahead.Value = strconv.Itoa(rep.HorizonDays)
	}
	if len(only) == 0 && len(v.stations()) > fewStations {
		p.Each = stationLines(v, rep)
	} else if p.Stations, err = s.stationReports(v, rep, only, ask); err != nil {
		return err
	}
	return s.renderForm(v, f, p, failed)
}

// stationLines says of many stations what leads to the report of each, as it was asked for.
func stationLines(v *visit, rep inventory.Shortages) []StationLine {
	lines, index := []StationLine{}, map[string]*StationLine{}
	for _, st := range v.stations() {
		q := v.Request.URL.Query()
		q.Set("station", st.Code)
		lines = append(lines, StationLine{Code: st.Code, Name: st.Name, Href: "/report?" + q.Encode(),
			BagCounts: rep.At[st.Code]})
	}
	for i := range lines {
		index[lines[i].Code] = &lines[i]
	}
	for _, r := range rep.Rows {
		if x := index[r.Station]; x != nil {
			x.Short++
			if r.BelowMinimum {
				x.Below++
			}
		}
	}
	for _, b := range rep.Buy {
		if x := index[b.Station]; x != nil {
			x.Buy++
		}
	}
	return lines
}

func (f *form) ask() lists.Outlook {
	ask := lists.Outlook{AsOf: f.day("as_of"), Horizon: -1}
	if f.text("horizon_days") != "" {
		n := f.number("horizon_days")
		if n < 0 || n > maxHorizon {
			f.wrong("horizon_days", message.M("enter {1} to {2}", 0, maxHorizon))
			n = -1
		}
		ask.Horizon = n
	}
	return ask
}

func csvLinks(station string, ask lists.Outlook) []NavLink {
	return []NavLink{
		{Href: csvPath("rows", station, ask), Text: message.M("Missing")},
		{Href: csvPath("fill", station, ask), Text: message.M("To put in")},
		{Href: csvPath("buy", station, ask), Text: message.M("To buy")},
	}
}

func csvPath(part, station string, ask lists.Outlook) string {
	q := url.Values{"part": {part}}
	if station != "" {
		q.Set("station", station)
	}
	if ask.AsOf != 0 {
		q.Set("as_of", ask.AsOf.String())
	}
	if ask.Horizon >= 0 {
		q.Set("horizon_days", strconv.Itoa(ask.Horizon))
	}
	return "/api/v1/reports/shortages.csv?" + q.Encode()
}

func statesCounted(n inventory.BagCounts) []StateCount {
	return slices.DeleteFunc([]StateCount{
		{inventory.NotReady, n.NotReady}, {inventory.ReadyWithGaps, n.ReadyWithGaps}, {inventory.Ready, n.Ready},
		{inventory.OutOfService, n.OutOfService},
	}, func(c StateCount) bool { return c.N == 0 })
}

func (s *server) stationReports(v *visit, rep inventory.Shortages, only []string, ask lists.Outlook) (
	[]StationReport, error) {
	items := v.itemsByCode()
	var causes []int64
	for _, r := range rep.FirstStops {
		causes = append(causes, r.LotID)
	}
	lots, err := s.svc.Storeroom.LotsStowed(v.ctx(), v.actor, causes)
	if err != nil {
		return nil, err
	}
	registers, err := s.registersAt(v, only)
	if err != nil {
		return nil, err
	}
	bags, err := s.svc.Shift.BagList(v.ctx(), v.actor, inventory.BagFilter{AtStations: only, Purpose: inventory.ForIssue},
		inventory.Page{}, ask)
	if err != nil {
		return nil, err
	}
	st := newStationParts(bags, v.stations(), only)
	for _, r := range registers {
		st.at(r.Code).Troubles = r.troubles()
	}
	for _, r := range rep.Rows {
		x := st.at(r.Station)
		x.addShort(ShortRow{r, nameOf(items, r.Item)})
	}
	for _, r := range rep.Fill {
		x := st.at(r.Station)
		x.Fill = append(x.Fill, FillRow{r, nameOf(items, r.Item), lotLabel(r.BatchNo, r.Serial),
			r.Kind == inventory.FillTransfer})
	}
	for _, r := range rep.Buy {
		x := st.at(r.Station)
		x.Buy = append(x.Buy, BuyRow{r, nameOf(items, r.Item)})
	}
	for i := range st.all {
		if x := &st.all[i]; v.may(inventory.ActKeepStock) {
			x.Offers = transferOffers(x.Fill, x.Station)
		}
	}
	for _, r := range rep.FirstStops {
		row := StopRow{FirstStop: r}
		if l, ok := lots[r.LotID]; ok {
			row.Lot = message.M("{1}, {2}", nameOf(items, l.Item), lotLabel(l.BatchNo, l.Serial))
		}
		x := st.at(r.Station)
		x.Stops = append(x.Stops, row)
	}
	return st.all, nil
}

func (x *StationReport) addShort(r ShortRow) {
	if x.Rows == nil {
		x.Rows = []ShortGroup{{Stops: true, Critical: true}, {Stops: true}, {}}
	}
	i := 2
	if r.BelowMinimum {
		i = 1
	}
	if r.BelowMinimum && r.Critical {
		i = 0
	}
	x.Rows[i].Rows = append(x.Rows[i].Rows, r)
}

// stationParts finds the part of a report that belongs to a station.
type stationParts struct {
	all   []StationReport
	index map[string]int // station → where it is in all
}

func newStationParts(bags []inventory.BagSummary, stations []inventory.Station, only []string) *stationParts {
	st := &stationParts{index: map[string]int{}}
	for _, station := range stations {
		if len(only) == 0 || only[0] == station.Code {
			st.index[station.Code] = len(st.all)
			st.all = append(st.all, StationReport{Station: station})
		}
	}
	for _, b := range bags {
		if x := st.at(b.AtStation); b.Inside == "" {
			x.Bags = append(x.Bags, b)
		}
	}
	for _, x := range st.all {
		slices.SortStableFunc(x.Bags, func(a, b inventory.BagSummary) int {
			return cmp.Compare(slices.Index(stateOrder, a.State), slices.Index(stateOrder, b.State))
		})
	}
	return st
}

// at returns a station's part; what belongs to none that is shown goes nowhere.
func (st *stationParts) at(station string) *StationReport {
	if i, ok := st.index[station]; ok {
		return &st.all[i]
	}
	return &StationReport{}
}
