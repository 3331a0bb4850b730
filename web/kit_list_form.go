package web

import (
	"cmp"
	"context"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

// How many blank lines a form ends with, and how many more are given on
// demand.
const (
	blankLines = 3
	moreLines  = 10
)

type kitListChangePage struct {
	Base
	Form                                            Form
	List                                            inventory.KitList // the newest version
	Items                                           []inventory.Item
	Name, Edition, Source, ValidFrom, ValidTo       Field
	SealCheckHours, FullCheckDays, MinRemainingDays Field
	Sealed, SealWarns                               bool
	Lines                                           []LineFields
	Modules                                         []ModuleFields
	Rules                                           []RuleFields
	LineCount, ModuleCount, RuleCount               int
	Version                                         string
	Next                                            int // the version that saving makes
	Stale                                           bool
}

// LineFields is one line of a kit list being changed.
type LineFields struct {
	Title                                                   string // the item's name, empty for a blank line
	Row                                                     string
	Position, Item, Pouch, Par, Minimum, Elsewhere, Accepts Field
	Critical, PresenceOnly, Out, MoreOpen                   bool
}

// ModuleFields is one kind of module of a kit list being changed.
type ModuleFields struct {
	Title, Row     string
	KitList, Count Field
	Out            bool
}

// RuleFields is one rule of a kit list being changed.
type RuleFields struct {
	Title, Row                                       string
	When, Category, Item, AtLeast, Severity, Because Field
	Out                                              bool
}

var severityOptions = []Option{
	{Value: string(inventory.SeverityStop), Text: "Stop: the bag may not go out"},
	{Value: string(inventory.SeverityWarn), Text: "Warn: it goes out with a gap"},
}

func (s *server) showKitListChange(v *visit) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	return s.kitListForm(v, openForm(kitListValues(k)), k, nil)
}

// changeKitList makes the next version of the list, or gives the form more
// blank lines.
func (s *server) changeKitList(v *visit) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	switch more := f.text("more"); more {
	case "lines", "modules", "rules":
		f.values.Set(more+"-rows", strconv.Itoa(f.rowCount(more)+map[string]int{"lines": moreLines, "modules": 1,
			"rules": 1}[more]))
		return s.kitListForm(v, f, k, nil)
	}
	in, rename := readKitList(f, k.Code, v.items())
	seen := f.id("version")
	if err = f.err(); err == nil && seen <= 0 {
		err = inventory.Errorf(inventory.Invalid, "the form lacks the version that it changes; open it again")
	}
	if err == nil {
		err = v.once(func(ctx context.Context, _ string) (string, error) {
			made, err := s.svc.Lists.NextKitList(ctx, v.actor, in, int(seen))
			return kitListPath(made.Code) + "?done=version-" + strconv.Itoa(made.Version), err
		})
	}
	return f.fix(v, err, rename, func(v *visit, f *form, err error) error { return s.kitListForm(v, f, k, err) })
}

func (s *server) kitListForm(v *visit, f *form, k inventory.KitList, failed error) error {
	items := v.items()
	p := &kitListChangePage{Base: Base{Title: "Change " + k.Name, Caution: true}, List: k, Next: k.Version + 1,
		Items: items, Version: f.values.Get("version"), LineCount: f.rowCount("lines"), ModuleCount: f.rowCount("modules"),
		RuleCount: f.rowCount("rules"), Sealed: f.text("sealed") != "", SealWarns: f.text("seal_warns") != ""}
	if p.Stale = failed != nil && inventory.KindOf(failed) == inventory.Stale; p.Stale {
		p.Version = strconv.Itoa(k.Version) // what is typed here goes over the newest once the person sends it again
	}
	p.head(f)
	for row := range p.LineCount {
		before := len(f.shown)
		l := lineFieldsOf(f, row, items)
		p.Lines = append(p.Lines, l)
		f.nameRow(before, cmp.Or(l.Title, "New line"))
	}
	for row := range p.ModuleCount {
		before := len(f.shown)
		p.Modules = append(p.Modules, moduleFieldsOf(f, row, k.Code, v.kitLists()))
		f.nameRow(before, "Module")
	}
	for row := range p.RuleCount {
		before := len(f.shown)
		p.Rules = append(p.Rules, ruleFieldsOf(f, row, v.categories()))
		f.nameRow(before, "Kit rule")
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// nameRow says of the wrong fields from a place on which row they stand in.
func (f *form) nameRow(from int, title string) {
	for i := from; i < len(f.shown); i++ {
		f.shown[i].Label = title + ", " + strings.ToLower(f.shown[i].Label)
	}
}

func (p *kitListChangePage) head(f *form) {
	p.Name = f.field("name", "Name").Need()
	p.Edition = f.field("edition", "Edition")
	p.Source = f.field("source", "Source").WithHint("Where it was published. Naming it claims no compliance.")
	p.ValidFrom = f.dateField("valid_from", "Valid from")
	p.ValidTo = f.dateField("valid_to", "Valid to")
	p.SealCheckHours = f.numberField("seal_check_hours", "Hours between seal checks").Need().WithHint("0 for never.")
	p.FullCheckDays = f.numberField("full_check_days", "Days between full checks").Need().WithHint("0 for never.")
	p.MinRemainingDays = f.numberField("min_remaining_days", "Days that picked stock must last").Need()
}

func lineFieldsOf(f *form, row int, items []inventory.Item) LineFields {
	name := func(field string) string { return cellName("lines", row, field) }
	ticked := func(field string) bool { return f.text(name(field)) != "" }
	l := LineFields{Row: cellName("lines", row, ""), Critical: ticked("critical"), PresenceOnly: ticked("presence_only"),
		Out:      ticked("out"),
		Position: f.numberField(name("position"), "Position"), Item: f.field(name("item"), "Item"),
		Pouch: f.field(name("pouch"), "Pouch"),
		Par:   f.numberField(name("par"), "Par"), Minimum: f.numberField(name("minimum"), "Minimum"),
		Elsewhere: f.field(name("carried_elsewhere"), "Carried elsewhere: where"),
		Accepts: f.field(name("accepts"), "Also accepts, in order of preference").
			WithHint("Codes of other items that count.")}
	l.Item.Shared = "items"
	l.Title = titleOf(f.text(name("item")), items)
	l.MoreOpen = l.Elsewhere.Value != "" || l.Accepts.Value != "" || l.Elsewhere.Fix != "" || l.Accepts.Fix != ""
	return l
}

// titleOf names the item that was typed; empty where nothing was.
func titleOf(typed string, items []inventory.Item) string {
	code := itemCode(typed, items)
	for _, it := range items {
		if it.Code == code {
			return it.Name
		}
	}
	return code
}

func moduleFieldsOf(f *form, row int, own string, lists []inventory.KitList) ModuleFields {
	name := func(field string) string { return cellName("modules", row, field) }
	m := ModuleFields{Row: cellName("modules", row, ""), Out: f.text(name("out")) != "",
		Count: f.numberField(name("count"), "How many")}
	var options []Option
	for _, k := range lists {
		if k.Code != own {
			options = append(options, Option{Value: k.Code, Text: k.Name})
		}
		if k.Code == f.text(name("kit_list")) {
			m.Title = k.Name
		}
	}
	m.KitList = f.choice(name("kit_list"), "Kit list of the module", options)
	return m
}

func ruleFieldsOf(f *form, row int, categories []Option) RuleFields {
	name := func(field string) string { return cellName("rules", row, field) }
	r := RuleFields{Title: f.text(name("because")), Row: cellName("rules", row, ""), Out: f.text(name("out")) != "",
		When:     f.choice(name("when_category"), "Only if it holds any of", categories),
		Category: f.choice(name("need_category"), "It needs, of this category", categories),
		Item:     f.field(name("need_item"), "or of this item"), AtLeast: f.numberField(name("at_least"), "at least"),
		Severity: f.choice(name("severity"), "Otherwise", severityOptions), Because: f.field(name("because"), "Because")}
	r.When.Empty = "always"
	r.Item.Shared = "items"
	return r
}
