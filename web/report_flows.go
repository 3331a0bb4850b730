package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/report"
)

type flowsPage struct {
	Base
	Reports           []NavLink
	Today             []StationDay
	Since, Until      inventory.Day
	Station, From, To Field
	CSV               string
	Causes            []CauseRow
	Rows              []FlowRow // items of which something came or went
	Still             []FlowRow // the others
	Letters           []string  // with which an item of Rows begins
}

// CauseRow is what was wasted for one cause.
type CauseRow struct {
	Cause inventory.Cause
	Qty   int
	Href  string
}

// FlowRow is what became of the units of one item.
type FlowRow struct {
	report.Flow
	Name   string
	Waste  int
	Had    FlowLink // before
	Came   FlowLink // received and found
	Gone   []FlowLink
	Other  []FlowLink // what happens hardly ever
	InHref string
	Letter string // that its name begins with, at the first of them
}

// FlowLink is a number with the way to the movements behind it.
type FlowLink struct {
	Kind report.FlowKind
	N    int
	Href string
}

const flowDays = 90

// flowAsk reads what a report of flows is asked about; the last days, where nothing is said.
func flowAsk(v *visit, f *form) report.FlowAsk {
	ask := report.FlowAsk{Since: f.day("since"), Until: f.day("until")}
	ask.Stations, _ = v.stationsAsked()
	if !v.Request.URL.Query().Has("since") {
		ask.Since = v.ownStation().Today(v.now).AddDays(-flowDays)
	}
	if ask.Until != 0 && ask.Until < ask.Since {
		f.wrong("until", message.M("enter a later day, or the first"))
		ask.Until = 0
	}
	return ask
}

func (s *server) showFlows(v *visit) error {
	f := openForm(v.Request.URL.Query())
	ask := flowAsk(v, f)
	failed := f.err()
	flows, err := s.svc.Report.Flows(v.ctx(), v.actor, ask.Stations, ask.Since, ask.Until)
	if err != nil {
		return err
	}
	p := &flowsPage{Base: Base{Title: message.M("Waste and use")}, Reports: reportLinks("/flows"),
		Today: v.today(ask.Stations), Since: ask.Since, Until: ask.Until, CSV: csvHref("/flows.csv", v)}
	p.Station = v.anyStation(f)
	p.From, p.To = f.field("since", message.M("From")), f.field("until", message.M("To"))
	p.From.Kind, p.To.Kind, p.From.Empty, p.To.Empty = "date", "date", message.M("start"), message.M("now")
	if p.From.Value == "" && ask.Since != 0 {
		p.From.Value = ask.Since.String()
	}
	for cause, n := range flows.Total.Wasted {
		p.Causes = append(p.Causes, CauseRow{cause, n, flowHref(ask, "", report.FlowWasted, cause)})
	}
	slices.SortFunc(p.Causes, func(a, b CauseRow) int { return cmpText(string(a.Cause), string(b.Cause)) })
	for _, r := range flows.Rows {
		p.Rows = append(p.Rows, flowRow(r, ask, nameOf(v.itemsByCode(), r.Item)))
	}
	slices.SortStableFunc(p.Rows, func(a, b FlowRow) int { return cmpText(a.Name, b.Name) })
	p.divide()
	return s.renderForm(v, f, p, failed)
}

// divide puts what did not move apart, and finds the letters that lead into a long list.
func (p *flowsPage) divide() {
	rows := p.Rows
	p.Rows = nil
	for _, r := range rows {
		if r.still() {
			p.Still = append(p.Still, r)
			continue
		}
		letter := firstLetter(r.Name)
		if n := len(p.Letters); n == 0 || p.Letters[n-1] != letter {
			p.Letters, r.Letter = append(p.Letters, letter), letter
		}
		p.Rows = append(p.Rows, r)
	}
}

// still tells whether nothing of an item came or went.
func (r FlowRow) still() bool {
	return r.Came.N == 0 && len(r.Other) == 0 && !slices.ContainsFunc(r.Gone, func(l FlowLink) bool { return l.N != 0 })
}

func firstLetter(name string) string {
	for _, r := range strings.ToUpper(name) {
		return string(r)
	}
	return ""
}

func flowRow(r report.Flow, ask report.FlowAsk, name string) FlowRow {
	row := FlowRow{Flow: r, Name: name, Waste: r.Waste(), InHref: itemPath(r.Item)}
	link := func(kind report.FlowKind, n int) FlowLink {
		return FlowLink{kind, n, flowHref(ask, r.Item, kind, "")}
	}
	row.Had, row.Came = link(report.FlowBefore, r.Before), link(report.FlowReceived, r.Received)
	row.Gone = []FlowLink{link(report.FlowUsed, r.Used), link(report.FlowTrained, r.Trained),
		link(report.FlowWasted, row.Waste), link(report.FlowTrainingWasted, r.TrainingWasted), link(report.FlowLost, r.Lost),
		link(report.FlowToSupplier, r.ToSupplier)}
	if r.Converted != 0 {
		row.Other = append(row.Other, link(report.FlowConverted, r.Converted))
	}
	return row
}

func flowHref(ask report.FlowAsk, item string, kind report.FlowKind, cause inventory.Cause) string {
	q := url.Values{"since": {ask.Since.String()}}
	for name, value := range map[string]string{"until": ask.Until.String(), "item": item, "kind": string(kind),
		"cause": string(cause), "station": strings.Join(ask.Stations, "")} {
		if value != "" {
			q.Set(name, value)
		}
	}
	return "/flows/rows?" + q.Encode()
}

func (s *server) flowsCSV(v *visit) error {
	f := openForm(v.Request.URL.Query())
	ask := flowAsk(v, f)
	flows, err := s.svc.Report.Flows(v.ctx(), v.actor, ask.Stations, ask.Since, ask.Until)
	if err != nil {
		return err
	}
	causes := []inventory.Cause{inventory.CauseExpired, inventory.CauseDamaged, inventory.CauseWasted,
		inventory.CauseRecalled, inventory.CauseMissing, inventory.CauseOther}
	head := []string{"item", "before", "received", "found", "moved_in", "used", "trained"}
	for _, c := range causes {
		head = append(head, "wasted_"+string(c))
	}
	table := [][]string{append(head, "training_wasted", "lost", "moved_out", "stock", "to_supplier", "converted")}
	for _, r := range flows.Rows {
		row := []string{r.Item}
		add := func(numbers ...int) {
			for _, n := range numbers {
				row = append(row, strconv.Itoa(n))
			}
		}
		add(r.Before, r.Received, r.Found, r.MovedIn, r.Used, r.Trained)
		for _, c := range causes {
			add(r.Wasted[c])
		}
		add(r.TrainingWasted, r.Lost, r.MovedOut, r.Stock, r.ToSupplier, r.Converted)
		table = append(table, row)
	}
	return v.sendCSV("what-became-of-it", table)
}

type flowRowsPage struct {
	Base
	Reports      []NavLink
	Back         string
	Kind         report.FlowKind
	Cause        inventory.Cause
	Item         string
	Since, Until inventory.Day
	Total        int
	More         bool
	Rows         []FlowMoveRow
}

// FlowMoveRow is one movement behind a number.
type FlowMoveRow struct {
	report.FlowMove
	Name, Href, Place string
	When              When
}

// mostFlowRows is how many movements are listed behind a number.
const mostFlowRows = 500

func (s *server) showFlowRows(v *visit) error {
	f := openForm(v.Request.URL.Query())
	ask := flowAsk(v, f)
	if err := f.err(); err != nil {
		return err
	}
	ask.Item, ask.Kind, ask.Cause = inventory.NormalCode(v.Query("item")), report.FlowKind(v.Query("kind")),
		inventory.Cause(v.Query("cause"))
	moves, err := s.svc.Report.FlowMoves(v.ctx(), v.actor, ask)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	back := url.Values{"since": {ask.Since.String()}, "until": {ask.Until.String()}, "station": {strings.Join(ask.Stations,
		"")}}
	p := &flowRowsPage{Base: Base{Title: message.M("Waste and use")}, Reports: reportLinks("/flows"),
		Back: "/flows?" + back.Encode(), Kind: ask.Kind, Cause: ask.Cause, Since: ask.Since, Until: ask.Until}
	if ask.Item != "" {
		p.Item = nameOf(items, ask.Item)
	}
	for _, m := range moves {
		p.Total += m.Counts
		if len(p.Rows) == mostFlowRows {
			p.More = true
			continue
		}
		row := FlowMoveRow{FlowMove: m, Name: nameOf(items, m.Item), Href: "/lots/" + formatID(m.LotID),
			When: whenAt(m.HappenedAt, v.station(m.Station))}
		for _, place := range []string{m.From, m.To} {
			if !inventory.OutsideCode(place) {
				row.Place = place
			}
		}
		p.Rows = append(p.Rows, row)
	}
	return s.render(v, http.StatusOK, p)
}

func reportLinks(here string) []NavLink {
	links := []NavLink{{Href: "/today", Text: message.M("Today")}, {Href: "/report", Text: message.M("Shortages")},
		{Href: "/year", Text: message.M("Year ahead")}, {Href: "/orders", Text: message.M("Orders")},
		{Href: "/checks", Text: message.M("Checks")}, {Href: "/flows", Text: message.M("Waste and use")}}
	for i := range links {
		links[i].Current = links[i].Href == here
	}
	return links
}
