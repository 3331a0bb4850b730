package web

import (
	"context"
	"net/url"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
)

type itemFormPage struct {
	Base
	ItemCode                                           string // empty for a new one
	Version                                            string
	Delivery, Line                                     string // to which to come back
	Code, Name, Category, Unit, TrackedBy              Field
	Dated, SingleUse, Controlled                       bool
	Life                                               []Field
	LifeOpen                                           bool
	Points, Notes, Strength, MadeUp, LeadTime, Reserve Field
	Content                                            Field
}

// lifeField is one of an item's life rules on its form.
type lifeField struct {
	name        string
	label, hint message.Message
	of          func(*inventory.Item) *int
}

var lifeFields = []lifeField{
	{"made_months", message.M("Months from manufacture"), nil,
		func(it *inventory.Item) *int { return &it.Life.MadeMonths }},
	{"stowed_months", message.M("Months from first stowing"), nil,
		func(it *inventory.Item) *int { return &it.Life.StowedMonths }},
	{"exposed_days", message.M("Days carried exposed"), message.M("On belt, vest or mount, in total"),
		func(it *inventory.Item) *int { return &it.Life.ExposedDays }},
	{"opened_days", message.M("Days from opening"), nil, func(it *inventory.Item) *int { return &it.Life.OpenedDays }},
	{"inspect_days", message.M("Days between inspections"), nil,
		func(it *inventory.Item) *int { return &it.Life.InspectDays }},
	{"training_cycles", message.M("Training applications"), message.M("Devices only"),
		func(it *inventory.Item) *int { return &it.Life.TrainingCycles }},
}

// saveItem makes an item, and goes back to the delivery in which its code was met, if it was; or it replaces what
// people may change of one, by which bags are judged at once.
func (s *server) saveItem(v *visit, f *form) error {
	in, err := s.item(v)
	if err != nil {
		return err
	}
	old := in
	f.fillItem(&in)
	save := s.svc.Lists.UpdateItem
	if in.Version = f.id("version"); old.Code == "" {
		in.Code, save = inventory.NormalCode(f.text("code")), s.svc.Lists.CreateItem
	}
	to := itemPath(in.Code)
	if delivery, line := f.id("delivery"), f.id("line"); delivery > 0 && line > 0 {
		to = deliveryPath(delivery) + "?" + url.Values{"item": {in.Code}, "line": {formatID(line)}}.Encode() + "#line." +
			formatID(line)
	}
	f.names = itemField
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := save(ctx, by, in)
		return to, err
	})
	if inventory.KindOf(err) == inventory.Stale {
		f.values.Set("version", formatID(old.Version)) // what is typed goes over it once it is sent again
	}
	return err
}

// item is the one that the path names, none where it is about a new one.
func (s *server) item(v *visit) (inventory.Item, error) {
	if v.Param("item") == "" {
		return inventory.Item{}, nil
	}
	return s.svc.Lists.Item(v.ctx(), v.actor, v.Param("item"))
}

func itemValues(v *visit, it inventory.Item) url.Values {
	if it.Code == "" {
		return url.Values{"unit": {"each"}, "tracked_by": {string(inventory.ByLot)}, "dated": {"yes"},
			"delivery": {v.Query("delivery")}, "line": {v.Query("line")}}
	}
	start := url.Values{"name": {it.Name}, "category": {string(it.Category)}, "unit": {it.Unit},
		"tracked_by": {string(it.TrackedBy)}, "dated": {yes(it.Dated)}, "single_use": {yes(it.SingleUse)},
		"controlled": {yes(it.Controlled)}, "strength": {it.Strength}, "form": {it.Form}, "content": {it.Content.String()},
		"lead_time_days": {filledIn(it.LeadTimeDays)}, "reserve": {filledIn(it.Reserve)},
		"inspection_points": {strings.Join(it.InspectionPoints, "\n")},
		"inspection_notes":  {strings.Join(it.InspectionNotes, "\n")}, "version": {formatID(it.Version)}}
	for _, l := range lifeFields {
		start.Set(l.name, filledIn(*l.of(&it)))
	}
	return start
}

func itemField(path string) string { return strings.TrimPrefix(path, "life.") }

// fillItem reads what the form says of an item, its code apart.
func (f *form) fillItem(it *inventory.Item) {
	it.Name, it.Category, it.Unit = f.text("name"), inventory.Category(f.text("category")), f.text("unit")
	it.TrackedBy, it.Dated, it.SingleUse = inventory.Tracking(f.text("tracked_by")), f.text("dated") != "",
		f.text("single_use") != ""
	it.Controlled, it.Strength, it.Form = f.text("controlled") != "", f.text("strength"), f.text("form")
	it.Content, it.LeadTimeDays = amount.ContentOf(f.text("content")), f.number("lead_time_days")
	it.Reserve = f.number("reserve")
	it.InspectionPoints, it.InspectionNotes = f.lines("inspection_points"), f.lines("inspection_notes")
	for _, l := range lifeFields {
		*l.of(it) = f.number(l.name)
	}
}

func (s *server) itemForm(v *visit, f *form, failed error) error {
	it, err := s.item(v)
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		f.values = itemValues(v, it)
	}
	p := &itemFormPage{Base: Base{Title: message.M("New item"), Caution: true}, ItemCode: it.Code,
		Version: f.text("version")}
	if it.Code != "" {
		p.Title = message.M("Edit {1}", it.Name)
	}
	p.Name = f.field("name", message.M("Name")).Need().WithHint(message.M("Trade name without maker"))
	p.Code = f.field("code", message.M("Code")).Need().WithHint(message.M("e.g. GAUZE-10"))
	p.Category = f.choice("category", message.M("Category"), v.categories()).Need()
	p.Unit = f.field("unit", message.M("Unit")).Need().WithHint(message.M("e.g. each, pair, roll"))
	p.TrackedBy = f.choice("tracked_by", message.M("Tracked by"), []Option{{Value: string(inventory.ByLot),
		Text: message.M("Batch number")}, {Value: string(inventory.BySerial),
		Text: message.M("Serial number (device)")}}).Need()
	p.Dated, p.SingleUse, p.Controlled = f.text("dated") != "", f.text("single_use") != "", f.text("controlled") != ""
	for _, l := range lifeFields {
		x := f.numberField(l.name, l.label).WithHint(l.hint)
		p.Life, p.LifeOpen = append(p.Life, x), p.LifeOpen || x.Value != "" || x.Fix != nil
	}
	p.Points = f.area("inspection_points", message.M("Inspection points")).
		WithHint(message.M("One per line; a failed point fails the device"))
	p.Notes = f.area("inspection_notes", message.M("Other inspection notes")).WithHint(message.M("One per line"))
	p.Strength = f.field("strength", message.M("Strength")).WithHint(message.M("e.g. 10 mg in 1 ml"))
	p.MadeUp = f.field("form", message.M("Form")).WithHint(message.M("e.g. ampoule"))
	p.Content = f.field("content", message.M("Content of one unit, e.g. 10 mg"))
	p.LeadTime = f.numberField("lead_time_days", message.M("Lead time, days"))
	p.Reserve = f.numberField("reserve", message.M("Reserve at each station, units"))
	p.LifeOpen = p.LifeOpen || p.Points.Value+p.Notes.Value != "" || p.Points.Fix != nil || p.Notes.Fix != nil
	if delivery, line := f.id("delivery"), f.id("line"); delivery > 0 && line > 0 {
		p.Delivery, p.Line = formatID(delivery), formatID(line)
	}
	return s.renderForm(v, f, p, failed)
}
