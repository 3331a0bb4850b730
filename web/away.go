package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
)

type awayPage struct {
	Base
	Stations []StationLink
	Today    []StationDay
	Rows     []AwayRow
	Done     *Done
	MayBack  bool // this person may say that something came back
}

// AwayRow is a place away with what lies there.
type AwayRow struct {
	shift.AwayPlace
	Href, StationName string
	What              []string
}

func awayPath(place string) string { return "/away/" + url.PathEscape(place) }

// awaySendPath leads to the form for units that stay somewhere.
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
	p := &awayPage{Base: Base{Title: "Away"}, Stations: v.allStationLinks("/away", chosen),
		Today: v.today(only), MayBack: v.may(inventory.ActCheck)}
	for _, a := range all {
		row := AwayRow{AwayPlace: a, Href: awayPath(a.Code), StationName: v.station(a.Station).Name}
		for _, l := range a.Lots {
			row.What = append(row.What, strconv.Itoa(l.Qty)+" × "+l.Name+", "+lotLabel(l.BatchNo, l.Serial))
		}
		p.Rows = append(p.Rows, row)
	}
	switch kind, _ := doneParam(v); kind {
	case "back":
		p.Done = &Done{Title: "Recorded as back", Text: "What is still away is listed here."}
	case "away":
		p.Done = &Done{Title: "Recorded as away", Text: "It is listed here until it is back."}
	case "lost":
		p.Done = &Done{Title: "Recorded: it does not come back", Text: "It is not counted any more."}
	}
	return s.render(v, http.StatusOK, p)
}

type awaySendPage struct {
	Base
	From    inventory.Place
	Back    string       // where the form was opened from
	Rows    []AwayFields // what crews often leave
	Rest    []AwayFields
	More    bool // the rest is open
	Where   Field
	DueBack Field
	Holder  Field
	Ref     Field
	Signing *SigningFields
	Form    Form
}

// AwayFields is a lot with the field for how many of it are meant.
type AwayFields struct {
	Name, Label string
	There       int
	Qty         Field
	Points      []PointFields // for a device that comes back through an inspection
}

const leavePrefix = "leave."

func (s *server) showAwaySend(v *visit) error { return s.awaySendForm(v, openForm(nil), nil) }

// sendAway records that units were left somewhere.
func (s *server) sendAway(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := shift.AwayTrip{From: f.text("from"), Where: f.text("where"), Holder: f.text("holder"),
		Reference: f.text("reference"), DueBack: f.day("due_back")}
	var rows []string
	for _, row := range rowsWith(f, leavePrefix) {
		if n := f.number(row + ".qty"); n != 0 {
			in.Lines, rows = append(in.Lines, shift.AwayLine{LotID: idOf(strings.TrimPrefix(row, leavePrefix)), Qty: n}),
				append(rows, row)
		}
	}
	if len(in.Lines) == 0 && f.ok() {
		f.wrong("lines", "say how many of at least one thing stay there")
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Shift.SendAway(ctx, by, in)
		if _, none := s.svc.Lists.Bag(ctx, v.actor, in.From); none == nil {
			return bagPath(inventory.NormalCode(in.From)) + "?done=away", err
		}
		return "/away?done=away", err
	})
	return f.fix(v, err, lineNames(rows, "qty"), s.awaySendForm)
}

func (s *server) awaySendForm(v *visit, f *form, failed error) error {
	code := inventory.NormalCode(f.text("from"))
	if code == "" {
		code = inventory.NormalCode(v.Query("from"))
	}
	from := s.placeOf(v, []stock.AtPlace{{Place: code}})
	if from.Code == "" {
		return inventory.Errorf(inventory.NotFound, "none of your stations has a place with this code")
	}
	lots, err := s.svc.Stock.StockAt(v.ctx(), v.actor, from.Code)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	p := &awaySendPage{Base: Base{Title: "Left somewhere, from " + from.Name}, From: from, Back: placePath(from)}
	for _, l := range sortLots(lots, items) {
		x := AwayFields{Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial)}
		for _, w := range l.Where {
			x.There = w.Qty
		}
		x.Qty = f.numberField(leavePrefix+formatID(l.ID)+".qty", "Left: "+x.Name+", "+x.Label)
		if shift.OftenLeft(items[l.Item]) {
			p.Rows = append(p.Rows, x)
			continue
		}
		p.Rest, p.More = append(p.Rest, x), p.More || x.Qty.Value != ""
	}
	if len(p.Rows) == 0 {
		p.Rows, p.Rest = p.Rest, nil
	}
	p.Where = f.field("where", "Where it stays").Need()
	p.Where.List = earlierPlaces(v.places())
	p.DueBack = dueField(f, v.station(from.Station).Today(v.now))
	p.Holder = f.field("holder", "Who has it there").WithHint("A desk or a ward. Never a patient.")
	p.Ref = f.field("reference", "Incident reference").WithHint("The number only. Never anything about a patient.")
	p.Signing = f.signing(slices.ContainsFunc(lots, func(l stock.LotSummary) bool { return items[l.Item].Controlled })).
		folded()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// earlierPlaces lists where things were left before, each once, so that the
// usual hospital is one touch.
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
	text string
}{{0, "today"}, {1, "tomorrow"}, {2, "in two days"}, {3, "in three days"}, {7, "in a week"}, {14, "in two weeks"},
	{28, "in four weeks"}}

func dueField(f *form, today inventory.Day) Field {
	var options []Option
	for _, d := range dueDays {
		on := today.AddDays(d.days).String()
		options = append(options, Option{Value: on, Text: d.text + ", " + on})
	}
	if was := f.text("due_back"); was != "" && !slices.ContainsFunc(options,
		func(o Option) bool { return o.Value == was }) {
		options = append(options, Option{Value: was, Text: was})
	}
	x := f.choice("due_back", "Due back", options)
	x.Empty = "not known"
	return x
}
