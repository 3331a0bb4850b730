package web

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/storeroom"
)

type deskPage struct {
	Base
	Stations []NavLink
	Today    []StationDay
	Figures  []Figure
	Tally    []StateCount
	Bags     []DeskRow
	All      string // shows those that are left out
	Whole    bool   // all are asked for
	Others   int    // bags that need nothing
	Places   []DeskPlace
	Open     []ObservationRow
	Station  string // that the page is about, empty for all
	Troubles []RegisterLink
}

// Figure is a number that leads to its rows.
type Figure struct {
	N    int
	Text message.Message
	Href string
	Now  bool // somebody must act on it
}

// DeskRow is a bag to act on, with what one press does next.
type DeskRow struct {
	storeroom.DeskBag
	Do   message.Message
	Href string
}

// DeskPlace is a place with units to see to.
type DeskPlace struct {
	storeroom.PlaceToDo
	Href string
}

// ReviewRow is a check or use that waits.
type ReviewRow struct {
	Href, Bag      string
	What           message.Message
	By             message.Message
	Done, Recorded When
	Because        message.Message
}

// ObservationRow is an open observation with the field to close it.
type ObservationRow struct {
	inventory.Observation
	At           When
	Reason, Note Field
}

// deskBags is how many bags the desk shows at first, and fewStations at how many of a person's stations at once.
const deskBags, fewStations = 20, 8

func (s *server) desk(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	if own := v.ownStation().Code; v.Query("station") == "" && len(v.stations()) > fewStations {
		only, chosen = []string{own}, own
	}
	d, err := s.svc.Storeroom.Desk(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	p := &deskPage{Base: Base{Title: message.M("Store")}, Stations: v.allStationLinks("/store", chosen),
		Today: v.today(only), Others: d.Others, Station: chosen,
		Whole: v.Query("all") != ""}
	if len(p.Stations) > 0 {
		p.Stations[0].Href += "?station=*"
	}
	for _, x := range d.Places {
		p.Places = append(p.Places, DeskPlace{x, "/stock/" + url.PathEscape(x.Place)})
	}
	for _, o := range d.Open {
		p.Open = append(p.Open, observationRow(f, o, d.At[o.Bag]))
	}
	recalls, err := s.deskFigures(v, p, d, only)
	if err != nil {
		return err
	}
	var all []inventory.BagSummary
	for i, b := range d.Bags {
		if all = append(all, b.BagSummary); i < deskBags || p.Whole {
			p.Bags = append(p.Bags, deskRow(b, d.Open, recalls))
		}
	}
	p.Tally = countStates(all)
	if len(p.Bags) < len(d.Bags) {
		p.All = "/store?" + url.Values{"station": {cmp.Or(chosen, "*")}, "all": {"yes"}}.Encode() + "#restock"
	}
	return s.renderForm(v, f, p, failed)
}

// stepWords say what a press does next about a bag.
var stepWords = map[storeroom.Step]message.Message{storeroom.StepReview: message.M("Review"),
	storeroom.StepReturn: message.M("Return to service"), storeroom.StepClose: message.M("Close observation"),
	storeroom.StepCheck: message.M("Full check"), storeroom.StepBalance: message.M("Balance check"),
	storeroom.StepModule: message.M("Open##verb"), storeroom.StepInspect: message.M("Inspect device"),
	storeroom.StepPull: message.M("Pull list"), storeroom.StepRestock: message.M("Restock bag"),
	storeroom.StepFind: message.M("Transfer or buy")}

func deskRow(b storeroom.DeskBag, open []inventory.Observation, recalls []notice.NoticeSummary) DeskRow {
	row := DeskRow{DeskBag: b, Do: stepWords[b.Next], Href: "/bags/" + url.PathEscape(b.Code) + "/restock"}
	switch about := b.About; b.Next {
	case storeroom.StepReview:
		kind, id, _ := strings.Cut(about.Report, " ")
		row.Href = "/review/" + kind + "s/" + id
	case storeroom.StepReturn:
		row.Href = bagPath(b.Code) + "/out-of-service"
	case storeroom.StepClose:
		for _, o := range open {
			if o.Bag == b.Code && o.LotID == about.LotID && o.Item == about.Item {
				row.Href = "#o-" + formatID(o.ID)
			}
		}
	case storeroom.StepCheck:
		row.Href = bagPath(b.Code) + "/full-check"
	case storeroom.StepBalance:
		row.Href = registerPath(b.Code, about.Item) + "/check"
	case storeroom.StepModule:
		row.Href = bagPath(about.Module)
	case storeroom.StepInspect:
		row.Href = devicePath(about.LotID) + "/inspect"
	case storeroom.StepPull:
		for _, n := range recalls {
			if slices.ContainsFunc(n.PullFrom, func(u notice.HeldUnits) bool { return u.LotID == about.LotID }) {
				row.Href = noticePath(n.ID)
			}
		}
	case storeroom.StepFind:
		row.Href = "/report?station=" + url.QueryEscape(b.AtStation)
	}
	return row
}

// deskFigures counts what each other page of the store room has to do, and returns the open notices.
func (s *server) deskFigures(v *visit, p *deskPage, d storeroom.Desk, only []string) ([]notice.NoticeSummary, error) {
	registers, err := s.registersAt(v, only)
	if err != nil {
		return nil, err
	}
	owed, apart, expired, recalled := 0, 0, 0, 0
	for _, x := range registers {
		owed += len(x.Owed)
		p.Troubles = append(p.Troubles, x.troubles()...)
	}
	for _, x := range d.Places {
		apart, expired = apart+x.Apart, expired+x.Expired
	}
	recalls, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{Status: inventory.NoticeOpen},
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	for _, n := range recalls {
		for _, u := range n.PullFrom {
			if p.Station == "" || u.Station == p.Station {
				recalled += u.Qty
			}
		}
	}
	scanning, err := s.svc.Storeroom.OpenDeliveries(v.ctx(), v.actor, only)
	if err != nil {
		return nil, err
	}
	open, err := s.svc.Transfer.Transfers(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only, Open: true},
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	orders, err := s.svc.Order.Orders(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only, Open: true},
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	late := 0
	for _, o := range orders {
		if v.orderRow(o).Late {
			late++
		}
	}
	due, err := s.svc.Count.Due(v.ctx(), v.actor, only)
	if err != nil {
		return nil, err
	}
	at := func(path string) string {
		if p.Station != "" {
			path += map[bool]string{true: "&", false: "?"}[strings.Contains(path, "?")] + "station=" + url.QueryEscape(p.Station)
		}
		return path
	}
	p.Figures = []Figure{
		{d.Waiting, message.M("to review"), at("/review"), true},
		{expired, message.M("{1|batch|batches} expired", expired), "#places", true},
		{recalled, message.M("recalled"), "/notices", true},
		{len(open), message.M("open {1|transfer|transfers}", len(open)), at("/transfers"), false},
		{late, message.M("late {1|order|orders}", late), at("/orders?status=late"), true},
		{len(due), message.M("{1|place|places} to count", len(due)), at("/counts"), false},
		{len(d.Overdue), message.M("{1|return|returns} overdue", len(d.Overdue)), at("/away"), true},
		{owed, message.M("{1|signature|signatures} owed", owed), at("/register"), true},
		{apart, message.M("in quarantine"), "#places", false},
		{len(d.Open), message.M("{1|observation|observations}", len(d.Open)), "#observations", true},
		{len(scanning), message.M("open {1|delivery|deliveries}", len(scanning)), "/receive", false},
	}
	return recalls, nil
}

// closeReasons are what most observations of a kind turn out to be.
var closeReasons = map[inventory.ObservationKind][]message.Message{
	inventory.SawTrainingMark: {message.M("to training"), message.M("in quarantine"), message.M("disposed of")},
	inventory.SawOtherSeal:    {message.M("new seal"), message.M("full check")},
	inventory.SawFailedPoint:  {message.M("inspection passed"), message.M("in quarantine"), message.M("disposed of")},
	inventory.SawUnidentified: {message.M("identified"), message.M("in quarantine"), message.M("disposed of")},
}

func closeField(id int64) string { return "reason-" + formatID(id) }

func observationRow(f *form, o inventory.Observation, at inventory.Station) ObservationRow {
	var options []Option
	for _, text := range append(slices.Clone(closeReasons[o.Kind]), message.M("recorded by mistake")) {
		options = append(options, Option{Value: text.Key(), Text: text})
	}
	options = append(options, Option{Value: "other", Text: message.M("other")})
	x := ObservationRow{Observation: o, At: whenAt(o.OpenedAt, at)}
	x.Reason = f.choice(closeField(o.ID), message.M("Reason"), options).Need()
	x.Note = f.field(closeField(o.ID)+"-note", message.M("Note"))
	return x
}

// closeObservation closes one with the reason that was chosen and a note; where it was none of them, the note says why.
func (s *server) closeObservation(v *visit, f *form) error {
	id := paramID(v, "id")
	reason, note := f.text(closeField(id)), f.text(closeField(id)+"-note")
	switch {
	case reason == "other" && note == "":
		f.wrong(closeField(id)+"-note", message.M("enter a reason"))
		return f.err()
	case reason == "other":
		reason = note
	case reason != "" && note != "":
		reason += ": " + note
	}
	f.names = func(string) string { return closeField(id) }
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Storeroom.CloseObservation(ctx, v.actor, v.Param("code"), id, reason)
		to := "/store"
		if at := v.Query("station"); at != "" {
			to += "?station=" + url.QueryEscape(at)
		}
		return to, err
	})
}

type reviewPage struct {
	Base
	Stations     []NavLink
	Checks, Uses []ReviewRow
	Cases        []CaseView // open ones
}

func (s *server) showReview(v *visit) error {
	only, chosen := v.stationsAsked()
	f := inventory.RecordFilter{Status: inventory.StatusToReview, AtStations: only}
	p := &reviewPage{Base: Base{Title: message.M("To review")}, Stations: v.allStationLinks("/review", chosen)}
	var err error
	if p.Checks, p.Uses, err = s.records(v, f, inventory.Page{}); err != nil {
		return err
	}
	open, err := s.svc.Register.Discrepancies(v.ctx(), v.actor, only, true)
	if err != nil {
		return err
	}
	for _, c := range open {
		p.Cases = append(p.Cases, v.caseView(c))
	}
	return s.render(v, http.StatusOK, p)
}

// records reads checks and uses, each line with the way to review it.
func (s *server) records(v *visit, f inventory.RecordFilter, page inventory.Page) (checks, uses []ReviewRow,
	err error) {
	seen, err := s.svc.Shift.Checks(v.ctx(), v.actor, f, page)
	if err != nil {
		return nil, nil, err
	}
	used, err := s.svc.Shift.Uses(v.ctx(), v.actor, f, page)
	checks, uses = v.reviewRows(seen, used)
	return checks, uses, err
}

func (v *visit) reviewRows(seen []inventory.Check, used []inventory.Use) (checks, uses []ReviewRow) {
	for _, c := range seen {
		station := v.stationOfBag(c.Bag)
		checks = append(checks, ReviewRow{Href: "/review/checks/" + formatID(c.ID), Bag: c.Bag, What: checkText(c),
			By: c.Whose(), Done: whenAt(c.HappenedAt, station), Recorded: whenAt(c.RecordedAt, station),
			Because: c.ReviewBecause})
	}
	for _, u := range used {
		station := v.stationOfBag(u.Bag)
		uses = append(uses, ReviewRow{Href: "/review/uses/" + formatID(u.ID), Bag: u.Bag,
			What: message.M("Use for {1}", u.Incident),
			By:   u.Whose(), Done: whenAt(u.HappenedAt, station), Recorded: whenAt(u.RecordedAt, station),
			Because: u.ReviewBecause})
	}
	return checks, uses
}
