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
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
)

type awayPage struct {
	Base
	Stations []NavLink
	Today    []StationDay
	Rows     []AwayRow
	Done     *Done
	MayBack  bool // this person may say that something came back
}

// AwayRow is a place away with what lies there.
type AwayRow struct {
	shift.AwayPlace
	Href, StationName string
	What              []message.Message
}

func awayPath(place string) string { return "/away/" + url.PathEscape(place) }

func awaySendPath(from string) string {
	return "/away/send?" + url.Values{"from": {from}}.Encode()
}

// showAway lists what is away, what is overdue first.
func (s *server) showAway(v *visit) error {
	only, chosen := v.stationsAsked()
	all, err := s.svc.Shift.Away(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	p := &awayPage{Base: Base{Title: message.M("Away")}, Stations: v.allStationLinks("/away", chosen),
		Today: v.today(only), MayBack: v.may(inventory.ActCheck)}
	for _, a := range all {
		row := AwayRow{AwayPlace: a, Href: awayPath(a.Code), StationName: v.station(a.Station).Name}
		for _, l := range a.Lots {
			row.What = append(row.What, message.M("{1} × {2}, {3}", l.Qty, l.Name, lotLabel(l.BatchNo, l.Serial)))
		}
		p.Rows = append(p.Rows, row)
	}
	switch kind, _ := doneParam(v); kind {
	case "back":
		p.Done = &Done{Title: message.M("Return recorded"), Text: message.M("Listed under Away until returned.")}
	case "away":
		p.Done = &Done{Title: message.M("Recorded as away"), Text: message.M("Listed under Away until returned.")}
	case "lost":
		p.Done = &Done{Title: message.M("Recorded as lost"), Text: message.M("Kept in history, not counted.")}
	}
	return s.render(v, http.StatusOK, p)
}

type awaySendPage struct {
	Base
	From                        inventory.Place
	Back                        string       // where the form was opened from
	Rows                        []AwayFields // what crews often leave
	Rest                        []AwayFields
	More                        bool // the rest is open
	Where, DueBack, Holder, Ref Field
	Signing                     *SigningFields
}

// AwayFields is a lot with the field for how many of it are meant.
type AwayFields struct {
	Place  string // where that is not said above
	Name   string
	Label  message.Message
	There  int
	Qty    Field
	Points []PointFields // for a device that comes back through an inspection
}

const leavePrefix = "leave."

func (s *server) sendAway(v *visit, f *form) error {
	in := shift.AwayTrip{From: f.text("from"), Where: f.text("where"), Holder: f.text("holder"),
		Reference: f.text("reference"), DueBack: f.day("due_back")}
	var rows []string
	for _, row := range rowsWith(f, leavePrefix, ".qty") {
		if n := f.number(row + ".qty"); n != 0 {
			in.Lines, rows = append(in.Lines, shift.AwayLine{LotID: idOf(strings.TrimPrefix(row, leavePrefix)), Qty: n}),
				append(rows, row)
		}
	}
	if len(in.Lines) == 0 && f.ok() {
		f.wrong("lines", message.M("enter at least one quantity"))
	}
	f.names = lineNames(rows, "qty")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Shift.SendAway(ctx, by, in)
		if _, none := s.svc.Lists.Bag(ctx, v.actor, in.From); none == nil {
			return bagPath(inventory.NormalCode(in.From)) + "?done=away", err
		}
		return "/away?done=away", err
	})
}

func (s *server) awaySendForm(v *visit, f *form, failed error) error {
	code := inventory.NormalCode(cmp.Or(f.text("from"), v.Query("from")))
	from := s.placeAt(v, code)
	if from.Code == "" {
		return inventory.Refuse(inventory.NotFound, "not found at your stations")
	}
	lots, err := s.svc.Stock.StockAt(v.ctx(), v.actor, from.Code)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	p := &awaySendPage{Base: Base{Title: message.M("Leave or send away from {1}", from.Name)}, From: from,
		Back: placePath(from)}
	for _, l := range sortLots(lots, items) {
		x := AwayFields{Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial)}
		for _, w := range l.Where {
			x.There = w.Qty
		}
		x.Qty = f.numberField(leavePrefix+formatID(l.ID)+".qty", message.M("Quantity: {1}, {2}", x.Name, x.Label))
		if shift.OftenLeft(items[l.Item]) {
			p.Rows = append(p.Rows, x)
			continue
		}
		p.Rest, p.More = append(p.Rest, x), p.More || x.Qty.Value != ""
	}
	if len(p.Rows) == 0 {
		p.Rows, p.Rest = p.Rest, nil
	}
	p.Where = f.field("where", message.M("Where to")).Need().WithHint(message.M("e.g. hospital and ward"))
	p.Where.List = earlierPlaces(v.places())
	p.DueBack = dueField(f, v.station(from.Station).Today(v.now))
	p.Holder = f.field("holder", message.M("Holder")).WithHint(message.M("A desk or ward, never a patient"))
	p.Ref = f.field("reference", message.M("Incident number")).WithHint(message.M("Never about a patient"))
	p.Signing = f.signing(slices.ContainsFunc(lots, func(l stock.LotSummary) bool { return items[l.Item].Controlled })).
		folded()
	return s.renderForm(v, f, p, failed)
}

// earlierPlaces lists where things were left before, each once, so that the usual hospital is one touch.
func earlierPlaces(places []inventory.Place) []string {
	var out []string
	for _, p := range slices.Backward(places) {
		if p.Kind == inventory.KindAway && !slices.Contains(out, p.Name) && len(out) < 20 {
			out = append(out, p.Name)
		}
	}
	return out
}

// dueDays are the days to choose from for when something is due back.
var dueDays = []struct {
	days int
	text message.Message
}{{0, message.M("today")}, {1, message.M("tomorrow")}, {2, message.M("in two days")}, {3,
	message.M("in three days")}, {7, message.M("in a week")}, {14, message.M("in two weeks")},
	{28, message.M("in four weeks")}}

func dueField(f *form, today inventory.Day) Field {
	var options []Option
	for _, d := range dueDays {
		on := today.AddDays(d.days)
		options = append(options, Option{Value: on.String(), Text: message.M("{1}, {2}", d.text, on)})
	}
	if was := f.text("due_back"); was != "" && !slices.ContainsFunc(options,
		func(o Option) bool { return o.Value == was }) {
		options = append(options, Option{Value: was, Text: message.Plain(was)})
	}
	x := f.choice("due_back", message.M("Due back"), options)
	x.Empty = message.M("unknown")
	return x
}
