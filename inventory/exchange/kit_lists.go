package exchange

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// kitRow is one row of a kit list: a line, a module or a rule, and in the first
// what is true of the whole list. Item and count belong to whichever it is.
type kitRow struct {
	list   inventory.KitList
	row    string
	line   inventory.Line
	module inventory.Module
	rule   inventory.KitRule
	item   string
	count  int
}

var kitListColumns = columns[kitRow]{
	code("code", "code of the kit list; rows with one code and version make one list",
		func(k *kitRow) *string { return &k.list.Code }).needed(),
	number("version", "1, 2, 3 …; left out, the next one where the list differs",
		func(k *kitRow) *int { return &k.list.Version }),
	text("name", "its name; this and what follows up to min_remaining_days stand in its first row",
		func(k *kitRow) *string { return &k.list.Name }),
	text("edition", "as its publisher or owner calls it", func(k *kitRow) *string { return &k.list.Edition }),
	text("source", "where the list was published", func(k *kitRow) *string { return &k.list.Source }),
	day("valid_from", "first day on which it may be used", func(k *kitRow) *inventory.Day { return &k.list.ValidFrom }),
	day("valid_to", "last day on which it may be used", func(k *kitRow) *inventory.Day { return &k.list.ValidTo }),
	yes("sealed", "whether bags on it carry a seal", func(k *kitRow) *bool { return &k.list.Sealed }),
	yes("seal_warns", "a broken seal is a warning and not a stop", func(k *kitRow) *bool { return &k.list.SealWarns }),
	number("seal_check_hours", "a seal check is due every so many hours",
		func(k *kitRow) *int { return &k.list.SealCheckHours }),
	number("full_check_days", "a full check is due every so many days",
		func(k *kitRow) *int { return &k.list.FullCheckDays }),
	number("min_remaining_days", "stock must last so many days when it is picked",
		func(k *kitRow) *int { return &k.list.MinRemainingDays }),
	word("row", "line, module or rule: what the row holds; line if left out",
		func(k *kitRow) *string { return &k.row }).kept(),
	code("item", "line: item code; rule: item that is needed", func(k *kitRow) *string { return &k.item }),
	text("pouch", "line: pouch", func(k *kitRow) *string { return &k.line.Pouch }),
	number("par", "line: quantity wanted", func(k *kitRow) *int { return &k.line.Par }),
	number("minimum", "line: quantity under which the bag may not go out",
		func(k *kitRow) *int { return &k.line.Minimum }),
	yes("critical", "line: filled before others", func(k *kitRow) *bool { return &k.line.Critical }),
	yes("presence_only", "line: asks for present, no number", func(k *kitRow) *bool { return &k.line.PresenceOnly }),
	text("carried_elsewhere", "line: where it is carried instead",
		func(k *kitRow) *string { return &k.line.CarriedElsewhere }),
	codes("accepts", "line: other item codes that count, in order", func(k *kitRow) *[]string { return &k.line.Accepts }),
	code("module", "module: kit list of bags that must be inside", func(k *kitRow) *string { return &k.module.KitList }),
	number("count", "module: how many; rule: how many at least", func(k *kitRow) *int { return &k.count }),
	text("when_category", "rule: applies if the bag holds any of it",
		func(k *kitRow) *inventory.Category { return &k.rule.WhenCategory }),
	text("need_category", "rule: category that is needed",
		func(k *kitRow) *inventory.Category { return &k.rule.NeedCategory }),
	word("severity", "rule: stop or warn", func(k *kitRow) *inventory.Severity { return &k.rule.Severity }),
	text("because", "rule: the reason, shown to people", func(k *kitRow) *string { return &k.rule.Because }),
}

func (x *exporting) kitLists(add func(kitRow) error) error {
	latest, err := x.r.KitLists(inventory.Page{})
	if err != nil {
		return err
	}
	for _, l := range latest {
		for v := 1; v <= l.Version; v++ {
			k, err := x.r.KitList(l.Code, v)
			if err := each(kitRows(k), err, add); err != nil {
				return err
			}
		}
	}
	return nil
}

// kitRows writes a list as one row for each line, module and rule, the first
// of them with what is true of the whole list.
func kitRows(k inventory.KitList) []kitRow {
	var rows []kitRow
	for _, l := range k.Lines {
		rows = append(rows, kitRow{row: "line", line: l, item: l.Item})
	}
	for _, m := range k.Modules {
		rows = append(rows, kitRow{row: "module", module: m, count: m.Count})
	}
	for _, r := range k.Rules {
		rows = append(rows, kitRow{row: "rule", rule: r, item: r.NeedItem, count: r.AtLeast})
	}
	for i := range rows {
		rows[i].list = inventory.KitList{Code: k.Code, Version: k.Version}
		if i == 0 {
			rows[i].list = k
		}
	}
	return rows
}

// kitListReader gathers the rows of each list, and makes the lists at the end:
// one may name another as a module.
type kitListReader struct {
	im    *importing
	lists []*gathered
	at    map[string]*gathered
}

// gathered is one version of a list, with the rows that it was read from.
type gathered struct {
	list  inventory.KitList
	first *record
	all   []*record
	rows  map[string]*record // by path of what they hold
}

func newKitListReader(im *importing) rowReader {
	return &kitListReader{im: im, at: map[string]*gathered{}}
}

func (k *kitListReader) row(r *record) error {
	in := kitRow{row: "line"}
	kitListColumns.read(r, &in)
	r.what = in.list.Code
	key := in.list.Code + " " + strconv.Itoa(in.list.Version)
	g := k.at[key]
	if g == nil {
		g = &gathered{list: in.list, first: r, rows: map[string]*record{}}
		k.at[key] = g
		k.lists = append(k.lists, g)
	}
	g.all = append(g.all, r)
	g.take(r, in)
	return nil
}

// take adds the line, module or rule of a row.
func (g *gathered) take(r *record, in kitRow) {
	l := &g.list
	switch in.row {
	case "line":
		g.rows["lines["+strconv.Itoa(len(l.Lines))+"]"] = r
		in.line.Item = in.item
		l.Lines = append(l.Lines, in.line)
	case "module":
		g.rows["modules["+strconv.Itoa(len(l.Modules))+"]"] = r
		in.module.Count = in.count
		l.Modules = append(l.Modules, in.module)
	case "rule":
		g.rows["rules["+strconv.Itoa(len(l.Rules))+"]"] = r
		in.rule.NeedItem, in.rule.AtLeast = in.item, in.count
		l.Rules = append(l.Rules, in.rule)
	default:
		r.problems.Add("row", "write line, module or rule")
	}
}

// end makes the lists, each after those that it rests on.
func (k *kitListReader) end() error {
	for len(k.lists) > 0 {
		i := slices.IndexFunc(k.lists, func(g *gathered) bool { return !k.rests(g) })
		g := k.lists[max(i, 0)] // where each rests on another, the first is refused
		k.lists = slices.Delete(k.lists, max(i, 0), max(i, 0)+1)
		if err := k.make(g); err != nil {
			return err
		}
	}
	return nil
}

// rests tells whether a list has to wait for another of this file: for an
// earlier version of its own, or for a module's list.
func (k *kitListReader) rests(g *gathered) bool {
	return slices.ContainsFunc(k.lists, func(o *gathered) bool {
		return o != g && (o.list.Code == g.list.Code && o.list.Version < g.list.Version ||
			slices.ContainsFunc(g.list.Modules, func(m inventory.Module) bool {
				return m.KitList == o.list.Code &&
					len(o.list.Modules) == 0
			}))
	})
}

func (k *kitListReader) make(g *gathered) error {
	latest, _, err := there(k.im.w.KitList(g.list.Code, 0))
	if err != nil {
		return err
	}
	same, err := k.known(g, latest.Version)
	if err != nil {
		return err
	}
	out := Created
	switch {
	case same && !g.bad():
		return g.first.settled(Unchanged, nil)
	case g.list.Version > latest.Version+1 || g.list.Version != 0 && g.list.Version < latest.Version:
		late := inventory.Invalidf("version",
			"versions come one after another, and the newest is %d: leave this out to make the next", latest.Version)
		return g.refuse(inventory.MergeErrors(late, lists.CheckKitList(k.im.w, g.list)))
	case latest.Version > 0:
		out = Changed
	}
	made, err := k.im.s.lists.NextKitList(k.im.ctx, k.im.by, g.list, latest.Version)
	if latest.Version == 0 {
		made, err = k.im.s.lists.CreateKitList(k.im.ctx, k.im.by, g.list)
	}
	if err != nil || g.bad() {
		return g.refuse(err)
	}
	g.first.what += ", version " + strconv.Itoa(made.Version)
	return g.first.settled(out, nil)
}

// bad tells whether a cell of it cannot be read.
func (g *gathered) bad() bool {
	return slices.ContainsFunc(g.all, func(r *record) bool { return len(r.problems) > 0 })
}

// known tells whether the list is kept already as it stands here.
func (k *kitListReader) known(g *gathered, latest int) (bool, error) {
	version := g.list.Version
	if version == 0 {
		version = latest
	}
	if version == 0 || version > latest {
		return false, nil
	}
	old, err := k.im.w.KitList(g.list.Code, version)
	if err != nil {
		return false, err
	}
	in := g.list
	in.Version = version
	return sameKitList(old, in), nil
}

func sameKitList(a, b inventory.KitList) bool {
	for _, k := range []*inventory.KitList{&a, &b} {
		k.Lines, k.Modules, k.Rules = append([]inventory.Line{}, k.Lines...), append([]inventory.Module{}, k.Modules...),
			append([]inventory.KitRule{}, k.Rules...)
		for i := range k.Lines {
			k.Lines[i].Accepts = append([]string{}, k.Lines[i].Accepts...)
		}
	}
	return reflect.DeepEqual(a, b)
}

// refuse names, for each wrong field of a list, the row that it came from,
// after the cells that cannot be read.
func (g *gathered) refuse(err error) error {
	if err != nil && !inventory.KindOf(err).Fixable() {
		return err
	}
	fields := inventory.FieldsOf(err)
	if err != nil && len(fields) == 0 {
		fields = []inventory.Field{{Fix: inventory.MessageOf(err)}}
	}
	for _, f := range fields {
		r := g.first
		if i := strings.IndexByte(f.Path, ']'); i > 0 && g.rows[f.Path[:i+1]] != nil {
			r = g.rows[f.Path[:i+1]]
		}
		r.problems = append(r.problems, f)
	}
	for _, r := range g.all {
		r.rename = map[string]string{"kit_list": "module", "need_item": "item", "at_least": "count"}
		if len(r.problems) == 0 {
			continue
		}
		if err := r.refuse(r.problems.Err()); err != nil {
			return err
		}
	}
	return nil
}
