package exchange

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

var kitListColumns = []column{
	{"code", cellCode, "code of the kit list; rows with one code and version make one list", true},
	{"version", cellNumber, "1, 2, 3 …; left out, the next one where the list differs", false},
	{"name", cellText, "its name; this and what follows up to min_remaining_days stand in its first row", false},
	{"edition", cellText, "as its publisher or owner calls it", false},
	{"source", cellText, "where the list was published", false},
	{"valid_from", cellDay, "first day on which it may be used", false},
	{"valid_to", cellDay, "last day on which it may be used", false},
	{"sealed", cellYes, "whether bags on it carry a seal", false},
	{"seal_warns", cellYes, "a broken seal is a warning and not a stop", false},
	{"seal_check_hours", cellNumber, "a seal check is due every so many hours", false},
	{"full_check_days", cellNumber, "a full check is due every so many days", false},
	{"min_remaining_days", cellNumber, "stock must last so many days when it is picked", false},
	{"row", cellText, "line, module or rule: what the row holds; line if left out", false},
	{"item", cellCode, "line: item code; rule: item that is needed", false},
	{"pouch", cellText, "line: pouch", false},
	{"par", cellNumber, "line: quantity wanted", false},
	{"minimum", cellNumber, "line: quantity under which the bag may not go out", false},
	{"critical", cellYes, "line: filled before others", false},
	{"presence_only", cellYes, "line: asks for present, no number", false},
	{"carried_elsewhere", cellText, "line: where it is carried instead", false},
	{"accepts", cellCodes, "line: other item codes that count, in order", false},
	{"module", cellCode, "module: kit list of bags that must be inside", false},
	{"count", cellNumber, "module: how many; rule: how many at least", false},
	{"when_category", cellText, "rule: applies if the bag holds any of it", false},
	{"need_category", cellText, "rule: category that is needed", false},
	{"severity", cellText, "rule: stop or warn", false},
	{"because", cellText, "rule: the reason, shown to people", false},
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
	code, version := r.code("code"), r.number("version")
	key := code + " " + strconv.Itoa(version)
	g := k.at[key]
	if g == nil {
		g = &gathered{list: inventory.KitList{Code: code, Version: version}, first: r, rows: map[string]*record{}}
		g.head(r)
		k.at[key] = g
		k.lists = append(k.lists, g)
	}
	g.all = append(g.all, r)
	g.body(r)
	return nil
}

func (g *gathered) head(r *record) {
	l := &g.list
	l.Name, l.Edition, l.Source = r.text("name"), r.text("edition"), r.text("source")
	l.ValidFrom, l.ValidTo = r.day("valid_from"), r.day("valid_to")
	l.Sealed, l.SealWarns = r.yes("sealed"), r.yes("seal_warns")
	l.SealCheckHours, l.FullCheckDays, l.MinRemainingDays = r.number("seal_check_hours"), r.number("full_check_days"),
		r.number("min_remaining_days")
}

func (g *gathered) body(r *record) {
	l := &g.list
	what := strings.ToLower(r.text("row"))
	switch what {
	case "line", "":
		g.rows["lines["+strconv.Itoa(len(l.Lines))+"]"] = r
		l.Lines = append(l.Lines, inventory.Line{Item: r.code("item"), Pouch: r.text("pouch"), Par: r.number("par"),
			Minimum: r.number("minimum"), Critical: r.yes("critical"),
			PresenceOnly: r.yes("presence_only"), CarriedElsewhere: r.text("carried_elsewhere"), Accepts: r.codes("accepts")})
	case "module":
		g.rows["modules["+strconv.Itoa(len(l.Modules))+"]"] = r
		l.Modules = append(l.Modules, inventory.Module{KitList: r.code("module"), Count: r.number("count")})
	case "rule":
		g.rows["rules["+strconv.Itoa(len(l.Rules))+"]"] = r
		l.Rules = append(l.Rules, inventory.KitRule{WhenCategory: inventory.Category(r.text("when_category")),
			NeedCategory: inventory.Category(r.text("need_category")), NeedItem: r.code("item"),
			AtLeast: r.number("count"), Severity: inventory.Severity(strings.ToLower(r.text("severity"))),
			Because: r.text("because")})
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
	latest, err := k.im.w.KitList(g.list.Code, 0)
	if err != nil && inventory.KindOf(err) != inventory.NotFound {
		return err
	}
	same, err := k.known(g, latest.Version)
	if err != nil {
		return err
	}
	out := Created
	switch {
	case same && !g.bad():
		return k.im.settled(g.first, Unchanged, g.list.Code, nil)
	case g.list.Version > latest.Version+1 || g.list.Version != 0 && g.list.Version < latest.Version:
		late := inventory.Invalidf("version",
			"versions come one after another, and the newest is %d: leave this out to make the next", latest.Version)
		return k.refuse(g, inventory.MergeErrors(late, lists.CheckKitList(k.im.w, g.list)))
	case latest.Version > 0:
		out = Changed
	}
	made, err := k.im.s.lists.NextKitList(k.im.ctx, k.im.by, g.list, latest.Version)
	if latest.Version == 0 {
		made, err = k.im.s.lists.CreateKitList(k.im.ctx, k.im.by, g.list)
	}
	if err != nil || g.bad() {
		return k.refuse(g, err)
	}
	return k.im.settled(g.first, out, g.list.Code+", version "+strconv.Itoa(made.Version), nil)
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
func (k *kitListReader) refuse(g *gathered, err error) error {
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
		if err := k.im.refuse(r, g.list.Code, r.problems.Err()); err != nil {
			return err
		}
	}
	return nil
}
