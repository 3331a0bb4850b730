package exchange

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// kitRow is one row of a kit list: a line, a module or a rule, and in the first
// what is true of the whole list. Item and count belong to whichever it is.
type kitRow struct {
	Row  string `json:"row"`
	Item string `json:"item"`
	inventory.KitList
	inventory.Line
	Module string `json:"module"`
	Count  int    `json:"count"`
	inventory.KitRule
}

var kitListColumns = columnsOf[kitRow]([]column{
	{"code", cellCode, "Kit list; rows with one code and version make one list", needed},
	{"version", cellNumber, "Default: next, where the list differs", optional},
	{"name", cellText, "Name; down to minimum days left, from the list's first row", optional},
	{"edition", cellText, "Edition", optional},
	{"source", cellText, "Where published", optional},
	{"valid_from", cellDay, "Valid from", optional},
	{"valid_to", cellDay, "Valid to", optional},
	{"sealed", cellYes, "Bags carry a seal", optional},
	{"seal_warns", cellYes, "A wrong seal is a gap, not a stop", optional},
	{"seal_check_hours", cellNumber, "Hours between seal checks", optional},
	{"full_check_days", cellNumber, "Days between full checks", optional},
	{"min_remaining_days", cellNumber, "Minimum days left of picked stock", optional},
	{"row", cellWord, "Line, module, rule; default: line", kept},
	{"item", cellCode, "Line: item code; rule: item that is needed", optional},
	{"pouch", cellText, "Line: pouch", optional},
	{"par", cellNumber, "Line: quantity needed", optional},
	{"minimum", cellNumber, "Line: at least", optional},
	{"critical", cellYes, "Line: critical, filled first", optional},
	{"presence_only", cellYes, "Line: present, no number", optional},
	{"carried_elsewhere", cellText, "Line: carried where", optional},
	{"accepts", cellCodes, "Line: alternatives, in order", optional},
	{"module", cellCode, "Module: kit list of the module", optional},
	{"count", cellNumber, "Module: quantity; rule: at least", optional},
	{"when_category", cellText, "Rule: if it holds any", optional},
	{"need_category", cellText, "Rule: needs category", optional},
	{"severity", cellWord, "Rule: stop, warn", optional},
	{"because", cellText, "Rule: reason (optional)", optional},
})

func (x *exporting) kitLists(add func(kitRow) error) error {
	latest, err := x.r.KitLists(inventory.Page{})
	if err != nil {
		return err
	}
	var of []inventory.ListVersion
	for _, l := range latest {
		for v := 1; v <= l.Version; v++ {
			of = append(of, inventory.ListVersion{Code: l.Code, Version: v})
		}
	}
	if len(of) == 0 {
		return nil
	}
	all, err := x.r.KitListVersions(of)
	return each(all, err, func(k inventory.KitList) error { return each(kitRows(k), nil, add) })
}

// kitRows writes a list as one row for each line, module and rule, the first
// of them with what is true of the whole list.
func kitRows(k inventory.KitList) []kitRow {
	var rows []kitRow
	for _, l := range k.Lines {
		rows = append(rows, kitRow{Row: "line", Item: l.Item, Line: l})
	}
	for _, m := range k.Modules {
		rows = append(rows, kitRow{Row: "module", Module: m.KitList, Count: m.Count})
	}
	for _, r := range k.Rules {
		rows = append(rows, kitRow{Row: "rule", Item: r.NeedItem, Count: r.AtLeast, KitRule: r})
	}
	for i := range rows {
		rows[i].KitList = inventory.KitList{Code: k.Code, Version: k.Version}
		if i == 0 {
			rows[i].KitList = k
		}
	}
	return rows
}

// kitListReader gathers the rows of each list, and makes the lists at the end: one may name another as a module.
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

func newKitListReader(im *importing) (rowReader, error) {
	return &kitListReader{im: im, at: map[string]*gathered{}}, nil
}

func (k *kitListReader) row(r *record) error {
	in := kitRow{Row: "line"}
	kitListColumns.read(r, &in)
	r.what = in.KitList.Code
	key := in.KitList.Code + " " + strconv.Itoa(in.KitList.Version)
	g := k.at[key]
	if g == nil {
		g = &gathered{list: in.KitList, first: r, rows: map[string]*record{}}
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
	switch in.Row {
	case "line":
		g.rows["lines["+strconv.Itoa(len(l.Lines))+"]"] = r
		in.Line.Item = in.Item
		l.Lines = append(l.Lines, in.Line)
	case "module":
		g.rows["modules["+strconv.Itoa(len(l.Modules))+"]"] = r
		l.Modules = append(l.Modules, inventory.Module{KitList: in.Module, Count: in.Count})
	case "rule":
		g.rows["rules["+strconv.Itoa(len(l.Rules))+"]"] = r
		in.NeedItem, in.AtLeast = in.Item, in.Count
		l.Rules = append(l.Rules, in.KitRule)
	default:
		r.problems.Add("row", "choose one of {1}", "line, module, rule")
	}
}

// end makes the lists, each after those that it rests on.
func (k *kitListReader) end() error {
	for len(k.lists) > 0 {
		i := slices.IndexFunc(k.lists, func(g *gathered) bool { return !k.rests(g) })
		g := k.lists[max(i, 0)] // where each rests on another, the first is refused
		k.lists = slices.Delete(k.lists, max(i, 0), max(i, 0)+1)
		if err := k.im.later(task{of: g.first, do: func(*record) error { return k.make(g) }}); err != nil {
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
			len(o.list.Modules) == 0 && slices.ContainsFunc(g.list.Modules,
				func(m inventory.Module) bool { return m.KitList == o.list.Code }))
	})
}

func (k *kitListReader) make(g *gathered) error {
	latest, known, err := there(k.im.w.KitList(g.list.Code, 0))
	if err != nil {
		return err
	}
	bad := slices.ContainsFunc(g.all, func(r *record) bool { return len(r.problems) > 0 })
	same, err := k.known(g, latest.Version)
	switch {
	case err != nil:
		return err
	case same && !bad:
		return g.first.settled(Unchanged, nil)
	case g.list.Version > latest.Version+1 || g.list.Version != 0 && g.list.Version < latest.Version:
		late := inventory.InvalidField("version", "newest is version {1}: leave empty for the next", latest.Version)
		return g.refuse(inventory.MergeErrors(late, lists.CheckKitList(k.im.w, g.list)))
	}
	out, made := Changed, inventory.KitList{}
	if known {
		made, err = k.im.s.lists.NextKitList(k.im.ctx, k.im.by, g.list, latest.Version)
	} else {
		out = Created
		made, err = k.im.s.lists.CreateKitList(k.im.ctx, k.im.by, g.list)
	}
	if err != nil || bad {
		return g.refuse(err)
	}
	g.first.what += ", version " + strconv.Itoa(made.Version)
	return g.first.settled(out, nil)
}

// known tells whether the list is kept already as it stands here.
func (k *kitListReader) known(g *gathered, latest int) (bool, error) {
	in := g.list
	in.Version = cmp.Or(in.Version, latest)
	if in.Version == 0 || in.Version > latest {
		return false, nil
	}
	old, err := k.im.w.KitList(in.Code, in.Version)
	return err == nil && slices.EqualFunc(kitRows(old), kitRows(in), func(a, b kitRow) bool {
		return slices.Equal(kitListColumns.cells(a), kitListColumns.cells(b))
	}), err
}

// refuse names, for each wrong field of a list, the row that it came from, after the cells that cannot be read.
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
