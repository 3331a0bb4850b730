package web

import (
	"context"
	"net/url"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

type itemFormPage struct {
	Base
	Form                                      Form
	ItemCode                                  string // empty for a new one
	Version                                   string
	Delivery, Line                            string // to which to come back
	Code, Name, Category, Unit, TrackedBy     Field
	Dated, SingleUse, Controlled              bool
	Life                                      []Field
	LifeOpen                                  bool
	Points, Notes, Strength, MadeUp, LeadTime Field
}

// lifeField is one of an item's life rules on its form.
type lifeField struct {
	name, label, hint string
	of                func(*inventory.Item) *int
}

var lifeFields = []lifeField{
	{"made_months", "Months after manufacture", "", func(it *inventory.Item) *int { return &it.Life.MadeMonths }},
	{"stowed_months", "Months after it was first stowed in a bag", "",
		func(it *inventory.Item) *int { return &it.Life.StowedMonths }},
	{"exposed_days", "Days carried exposed", "On a belt, vest or mount, all of them summed.",
		func(it *inventory.Item) *int { return &it.Life.ExposedDays }},
	{"opened_days", "Days after opening", "", func(it *inventory.Item) *int { return &it.Life.OpenedDays }},
	{"inspect_days", "Days between inspections", "", func(it *inventory.Item) *int { return &it.Life.InspectDays }},
	{"training_cycles", "Applications in training", "Only where each has a serial number.",
		func(it *inventory.Item) *int { return &it.Life.TrainingCycles }},
}

func (s *server) showNewItem(v *visit) error {
	return s.itemForm(v, openForm(url.Values{"unit": {"each"}, "tracked_by": {string(inventory.ByLot)}, "dated": {"yes"},
		"delivery": {v.Query("delivery")}, "line": {v.Query("line")}}), inventory.Item{}, nil)
}

// createItem makes an item and goes back to the delivery in which its code was
// met, if it was.
func (s *server) createItem(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Item{Code: inventory.NormalCode(f.text("code"))}
	f.fillItem(&in)
	to := itemPath(in.Code)
	if delivery, line := f.id("delivery"), f.id("line"); delivery > 0 && line > 0 {
		to = deliveryPath(delivery) + "?" + url.Values{"item": {in.Code}, "line": {formatID(line)}}.Encode() + "#line." +
			formatID(line)
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.CreateItem(ctx, by, in)
		return to, err
	})
	return f.fix(v, err, itemField, func(v *visit, f *form, err error) error {
		return s.itemForm(v, f, inventory.Item{}, err)
	})
}

func (s *server) showChangeItem(v *visit) error {
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, v.Param("item"))
	if err != nil {
		return err
	}
	start := url.Values{"name": {it.Name}, "category": {string(it.Category)}, "unit": {it.Unit},
		"tracked_by": {string(it.TrackedBy)}, "dated": {yes(it.Dated)},
		"single_use": {yes(it.SingleUse)}, "controlled": {yes(it.Controlled)}, "strength": {it.Strength}, "form": {it.Form},
		"lead_time_days":    {numberOrNone(it.LeadTimeDays)},
		"inspection_points": {strings.Join(it.InspectionPoints, "\n")}, "inspection_notes": {strings.Join(it.InspectionNotes,
			"\n")}, "version": {formatID(it.Version)}}
	for _, l := range lifeFields {
		start.Set(l.name, numberOrNone(*l.of(&it)))
	}
	return s.itemForm(v, openForm(start), it, nil)
}

// changeItem replaces what people may change of an item. Bags are judged by it
// at once.
func (s *server) changeItem(v *visit) error {
	old, err := s.svc.Lists.Item(v.ctx(), v.actor, v.Param("item"))
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	in := old
	f.fillItem(&in)
	in.Version = f.id("version")
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.UpdateItem(ctx, by, in)
		return itemPath(in.Code), err
	})
	if fixable(err) {
		if inventory.KindOf(err) == inventory.Stale {
			f.values.Set("version", formatID(old.Version)) // what is typed goes over it once it is sent again
		}
		f.take(err, itemField)
		return s.itemForm(v, f, old, err)
	}
	return err
}

// itemField is the name on the form of a wrong field.
func itemField(path string) string { return strings.TrimPrefix(path, "life.") }

// fillItem reads what the form says of an item, its code apart.
func (f *form) fillItem(it *inventory.Item) {
	it.Name, it.Category, it.Unit = f.text("name"), inventory.Category(f.text("category")), f.text("unit")
	it.TrackedBy, it.Dated, it.SingleUse = inventory.Tracking(f.text("tracked_by")), f.text("dated") != "",
		f.text("single_use") != ""
	it.Controlled, it.Strength, it.Form = f.text("controlled") != "", f.text("strength"), f.text("form")
	it.LeadTimeDays = f.number("lead_time_days")
	it.InspectionPoints, it.InspectionNotes = f.lines("inspection_points"), f.lines("inspection_notes")
	for _, l := range lifeFields {
		*l.of(it) = f.number(l.name)
	}
}

func (s *server) itemForm(v *visit, f *form, it inventory.Item, failed error) error {
	p := &itemFormPage{Base: Base{Title: "New item", Caution: true}, ItemCode: it.Code, Version: f.text("version")}
	if it.Code != "" {
		p.Title = "Change " + it.Name
	}
	p.Name = f.field("name", "Name").Need().WithHint("As the trade says it, without the maker.")
	p.Code = f.field("code", "Code").Need().WithHint("Short, for lists and labels, as in GAUZE-10.")
	p.Category = f.choice("category", "Category", v.categories()).Need()
	p.Unit = f.field("unit", "Unit").Need().WithHint("What one of it is: each, pair, roll.")
	p.TrackedBy = f.choice("tracked_by", "What tells units apart", []Option{{Value: string(inventory.ByLot),
		Text: "the batch number"}, {Value: string(inventory.BySerial), Text: "a serial number: each is a device"}}).Need()
	p.Dated, p.SingleUse, p.Controlled = f.text("dated") != "", f.text("single_use") != "", f.text("controlled") != ""
	for _, l := range lifeFields {
		x := f.numberField(l.name, l.label).WithHint(l.hint)
		p.Life, p.LifeOpen = append(p.Life, x), p.LifeOpen || x.Value+x.Fix != ""
	}
	p.Points = f.area("inspection_points", "What an inspection looks at").
		WithHint("One a line. One that fails ends the device's fitness.")
	p.Notes = f.area("inspection_notes", "What it looks at as well").WithHint("One a line, only noted.")
	p.Strength = f.field("strength", "Strength").WithHint("Of a medicine, as in 10 mg in 1 ml.")
	p.MadeUp = f.field("form", "Form").WithHint("Of a medicine, as in ampoule.")
	p.LeadTime = f.numberField("lead_time_days", "Days from order to delivery")
	p.LifeOpen = p.LifeOpen || p.Points.Value+p.Notes.Value+p.Points.Fix+p.Notes.Fix != ""
	if delivery, line := f.id("delivery"), f.id("line"); delivery > 0 && line > 0 {
		p.Delivery, p.Line = formatID(delivery), strconv.FormatInt(line, 10)
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}
