package web

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

// How many blank lines a form ends with, those of a new list, and how many more are given on demand.
const (
	blankLines = 3
	newLines   = 15
	seenBlank  = 2 // of them a phone shows at first
	moreLines  = 10
)

type kitListChangePage struct {
	Base
	List                                            inventory.KitList // the newest version
	Items                                           []inventory.Item
	Pouches                                         []string
	Code, Name, Edition, Source, ValidFrom, ValidTo Field
	SealCheckHours, FullCheckDays, MinRemainingDays Field
	Sealed, SealWarns                               bool
	Lines                                           []LineFields
	Modules                                         []ModuleFields
	Rules                                           []RuleFields
	LineCount, ModuleCount, RuleCount               int
	Fold                                            int // the lines that are folded on a phone begin there
	Version                                         string
	Next                                            int // the version that saving makes
	Stale                                           bool
	Preview                                         *ListPreview
}

// ListPreview is what the list as it is typed would change, and how many bags would stay as they are.
type ListPreview struct {
	Rows []PreviewRow
	Same int
}

// PreviewRow is a bag that the list as it is typed would change.
type PreviewRow struct {
	lists.BagThen
	Lacking, Over []message.Message
}

// LineFields is one line of a kit list being changed.
type LineFields struct {
	Title                                         string // the item's name, empty for a blank line
	Row                                           string
	N                                             int
	Item, Pouch, Par, Minimum, Elsewhere, Accepts Field
	Critical, PresenceOnly, Out, MoreOpen         bool
	Begins                                        bool // a pouch
	Open                                          bool // on a phone: something in it is wrong
}

// ModuleFields is one kind of module of a kit list being changed.
type ModuleFields struct {
	Title, Row     string
	KitList, Count Field
	Out            bool
}

// RuleFields is one rule of a kit list being changed.
type RuleFields struct {
	Title                                            message.Message
	Row                                              string
	When, Category, Item, AtLeast, Severity, Because Field
	Out, Open                                        bool
}

var severityOptions = []Option{
	{Value: string(inventory.SeverityStop), Text: message.M("Stop: not ready")},
	{Value: string(inventory.SeverityWarn), Text: message.M("Warn: ready with gaps")},
}

// changeKitList makes the list or its next version; or it gives the form more blank lines, moves one, or shows which
// bags would change.
func (s *server) changeKitList(v *visit, f *form) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	switch more := f.text("more"); more {
	case "lines", "modules", "rules":
		add := map[string]int{"lines": moreLines, "modules": 1, "rules": 1}[more]
		f.values.Set(more+"-rows", strconv.Itoa(f.rowCount(more)+add))
		return s.kitListForm(v, f, nil)
	}
	if row, up, ok := f.moved(); ok {
		f.swapLines(row, up)
		return s.kitListForm(v, f, nil)
	}
	in, names := readKitList(f, cmp.Or(k.Code, inventory.NormalCode(f.text("code"))), v.items())
	f.names = names
	seen := f.id("version")
	if err := f.err(); err != nil {
		return err
	}
	if seen <= 0 && k.Code != "" {
		return inventory.Refuse(inventory.Invalid, "reload the page")
	}
	if f.text("more") == "preview" {
		then, same, err := s.svc.Lists.Preview(v.ctx(), v.actor, in)
		if err != nil {
			return err
		}
		return s.kitListPreviewed(v, f, nil, &ListPreview{previewRows(then, v.itemsByCode()), same})
	}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		save := func() (inventory.KitList, error) { return s.svc.Lists.NextKitList(ctx, v.actor, in, int(seen)) }
		if k.Code == "" {
			save = func() (inventory.KitList, error) { return s.svc.Lists.CreateKitList(ctx, v.actor, in) }
		}
		made, err := save()
		return kitListPath(made.Code) + "?done=version-" + strconv.Itoa(made.Version), err
	})
}

func previewRows(then []lists.BagThen, items map[string]inventory.Item) []PreviewRow {
	counted := func(all []lists.ItemThen) (out []message.Message) {
		for _, n := range all {
			out = append(out, message.Plain(fmt.Sprintf("%s: %d → %d", nameOf(items, n.Item), n.Now, n.Then)))
		}
		return out
	}
	var out []PreviewRow
	for _, b := range then {
		out = append(out, PreviewRow{b, counted(b.Lacks), counted(b.Over)})
	}
	return out
}

func (s *server) kitListForm(v *visit, f *form, failed error) error {
	return s.kitListPreviewed(v, f, failed, nil)
}

func (s *server) kitListPreviewed(v *visit, f *form, failed error, then *ListPreview) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		f.values = kitListValues(k)
	}
	items := v.items()
	p := &kitListChangePage{Base: Base{Title: message.M("Edit {1}", k.Name), Caution: true}, List: k, Next: k.Version + 1,
		Items: items, Version: f.values.Get("version"), LineCount: f.rowCount("lines"), ModuleCount: f.rowCount("modules"),
		RuleCount: f.rowCount("rules"), Sealed: f.text("sealed") != "", SealWarns: f.text("seal_warns") != "",
		Preview: then}
	if k.Code == "" {
		p.Title = message.M("New kit list")
	}
	if p.Stale = failed != nil && inventory.KindOf(failed) == inventory.Stale; p.Stale {
		p.Version = strconv.Itoa(k.Version) // what is typed here goes over the newest once the person sends it again
	}
	p.head(f)
	for row := range p.LineCount {
		before := len(f.shown)
		l := lineFieldsOf(f, row, items)
		if l.Title != "" {
			p.Fold = row + 1
		}
		l.Begins = row > 0 && l.Pouch.Value != p.Lines[row-1].Pouch.Value
		if !slices.Contains(p.Pouches, l.Pouch.Value) {
			p.Pouches = append(p.Pouches, l.Pouch.Value)
		}
		p.Lines = append(p.Lines, l)
		f.nameRow(before, orElse(message.Plain(l.Title), message.M("New line")))
	}
	p.Fold += seenBlank
	for row := range p.ModuleCount {
		before := len(f.shown)
		p.Modules = append(p.Modules, moduleFieldsOf(f, row, k.Code, v.kitLists()))
		f.nameRow(before, message.M("Module"))
	}
	for row := range p.RuleCount {
		before := len(f.shown)
		p.Rules = append(p.Rules, ruleFieldsOf(f, row, items, v.categories()))
		f.nameRow(before, message.M("Kit rule"))
	}
	return s.renderForm(v, f, p, failed)
}

// nameRow says of the wrong fields from a place on which row they stand in.
func (f *form) nameRow(from int, title message.Message) {
	for i := from; i < len(f.shown); i++ {
		f.shown[i].Label = message.M("{1}, {2}", title, f.shown[i].Label)
	}
}

func (p *kitListChangePage) head(f *form) {
	p.Code = f.field("code", message.M("Code")).Need()
	p.Name = f.field("name", message.M("Name")).Need()
	p.Edition = f.field("edition", message.M("Edition"))
	p.Source = f.field("source", message.M("Source")).WithHint(message.M("Proves no compliance"))
	p.ValidFrom = f.dateField("valid_from", message.M("Valid from"))
	p.ValidTo = f.dateField("valid_to", message.M("Valid to"))
	p.SealCheckHours = f.numberField("seal_check_hours",
		message.M("Hours between seal checks")).Need().WithHint(message.M("0: never"))
	p.FullCheckDays = f.numberField("full_check_days",
		message.M("Days between full checks")).Need().WithHint(message.M("0: never"))
	p.MinRemainingDays = f.numberField("min_remaining_days", message.M("Minimum days left of picked stock")).Need()
}

func lineFieldsOf(f *form, row int, items []inventory.Item) LineFields {
	name := func(field string) string { return cellName("lines", row, field) }
	ticked := func(field string) bool { return f.text(name(field)) != "" }
	l := LineFields{Row: cellName("lines", row, ""), N: row, Critical: ticked("critical"),
		PresenceOnly: ticked("presence_only"), Out: ticked("out"), Item: f.field(name("item"), message.M("Item")),
		Pouch: f.field(name("pouch"), message.M("Pouch")),
		Par:   f.numberField(name("par"), message.M("Needs")), Minimum: f.numberField(name("minimum"), message.M("At least")),
		Elsewhere: f.field(name("carried_elsewhere"), message.M("Carried where")),
		Accepts: f.field(name("accepts"), message.M("Alternatives, in order")).
			WithHint(message.M("Item codes"))}
	l.Item.Shared, l.Pouch.Shared = "items", "pouches"
	l.Title = titleOf(f.text(name("item")), items)
	l.Open = slices.ContainsFunc([]Field{l.Item, l.Pouch, l.Par, l.Minimum, l.Elsewhere, l.Accepts},
		wrong)
	l.MoreOpen = l.Elsewhere.Value != "" || l.Accepts.Value != "" || l.Elsewhere.Fix != nil || l.Accepts.Fix != nil
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

func moduleFieldsOf(f *form, row int, own string, all []inventory.KitList) ModuleFields {
	name := func(field string) string { return cellName("modules", row, field) }
	m := ModuleFields{Row: cellName("modules", row, ""), Out: f.text(name("out")) != "",
		Count: f.numberField(name("count"), message.M("Quantity"))}
	var options []Option
	for _, k := range all {
		if k.Code != own {
			options = append(options, Option{Value: k.Code, Text: message.Plain(k.Name)})
		}
		if k.Code == f.text(name("kit_list")) {
			m.Title = k.Name
		}
	}
	m.KitList = f.choice(name("kit_list"), message.M("Module's kit list"), options)
	return m
}

func wrong(x Field) bool { return x.Fix != nil }

func ruleFieldsOf(f *form, row int, items []inventory.Item, categories []Option) RuleFields {
	name := func(field string) string { return cellName("rules", row, field) }
	r := RuleFields{Row: cellName("rules", row, ""), Out: f.text(name("out")) != "",
		When:     f.choice(name("when_category"), message.M("If it holds any"), categories),
		Category: f.choice(name("need_category"), message.M("Needs category"), categories),
		Item:     f.field(name("need_item"), message.M("Or item")), AtLeast: f.numberField(name("at_least"),
			message.M("At least")), Severity: f.choice(name("severity"), message.M("Otherwise"), severityOptions),
		Because: f.field(name("because"), message.M("Reason"))}
	for _, o := range r.Category.Options {
		if o.Chosen {
			r.Title = o.Text
		}
	}
	if text := cmp.Or(r.Because.Value, titleOf(r.Item.Value, items)); text != "" {
		r.Title = message.Plain(text)
	}
	r.Open = slices.ContainsFunc([]Field{r.When, r.Category, r.Item, r.AtLeast, r.Severity, r.Because}, wrong)
	r.When.Empty = message.M("always")
	r.Item.Shared = "items"
	return r
}
