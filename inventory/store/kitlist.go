package store

import (
	"cmp"
	"database/sql"
	"strings"

	"stowkeeper/inventory"
)

type kitListRow struct {
	Code                                            string `gorm:"primaryKey"`
	Version                                         int    `gorm:"primaryKey;autoIncrement:false"`
	Name, Edition, Source                           string
	ValidFrom, ValidTo                              day
	Sealed, SealWarns                               bool
	SealCheckHours, FullCheckDays, MinRemainingDays int
}

type kitLineRow struct {
	List                   string `gorm:"primaryKey"`
	Version                int    `gorm:"primaryKey;autoIncrement:false"`
	Line                   int    `gorm:"primaryKey;autoIncrement:false"`
	Item, Pouch            string
	Par, Minimum           int
	Critical, PresenceOnly bool
	CarriedElsewhere       string
}

type kitAcceptRow struct {
	List    string `gorm:"primaryKey"`
	Version int    `gorm:"primaryKey;autoIncrement:false"`
	Line    int    `gorm:"primaryKey;autoIncrement:false"`
	Rank    int    `gorm:"primaryKey;autoIncrement:false"`
	Item    string
}

type kitRuleRow struct {
	List                                 string `gorm:"primaryKey"`
	Version                              int    `gorm:"primaryKey;autoIncrement:false"`
	Rank                                 int    `gorm:"primaryKey;autoIncrement:false"`
	WhenCategory, NeedCategory, NeedItem code
	AtLeast                              int
	Severity, Because                    string
}

type kitModuleRow struct {
	List    string `gorm:"primaryKey"`
	Version int    `gorm:"primaryKey;autoIncrement:false"`
	Rank    int    `gorm:"primaryKey;autoIncrement:false"`
	Module  string
	Count   int
}

func (k kitListRow) value() inventory.KitList {
	list := convert[inventory.KitList](k)
	list.Lines = []inventory.Line{}
	return list
}

// The latest version of each list, as a condition on kit_list k.
const latestVersion = "k.version = (SELECT max(n.version) FROM kit_list n WHERE n.code = k.code)"

// KitList returns a version of a list, the latest for version 0.
func (r reader) KitList(code string, version int) (inventory.KitList, error) {
	var w where
	w.and("k.code = ?", code)
	w.when(version == 0, latestVersion)
	given(&w, "k.version = ?", version)
	lists, err := r.kitLists(w, "")
	return only(lists, err, "kit list")
}

// KitLists returns the latest version of each list by code.
func (r reader) KitLists(p inventory.Page) ([]inventory.KitList, error) {
	var w where
	w.and(latestVersion)
	tail, err := w.tail(p, listKey{column: "k.code"})
	if err != nil {
		return nil, err
	}
	return r.kitLists(w, tail)
}

// KitListVersions returns the versions that are named, or every one that some bag uses, and those that are newer.
func (r reader) KitListVersions(of []inventory.ListVersion) ([]inventory.KitList, error) {
	var w where
	if len(of) == 0 {
		w.and("EXISTS (SELECT 1 FROM bag b WHERE b.kit_list = k.code AND b.kit_list_version <= k.version)")
	} else {
		var named []any
		for _, v := range of {
			named = append(named, v.Code, v.Version)
		}
		const one = "(CAST(? AS text), CAST(? AS integer))"
		w.and("EXISTS (SELECT 1 FROM (VALUES "+strings.Repeat(one+", ", len(of)-1)+one+
			") v WHERE v.column1 = k.code AND v.column2 <= k.version)", named...)
	}
	return r.kitLists(w, " ORDER BY k.code, k.version")
}

// kitLists reads the chosen versions with their lines, modules and rules in four queries, however many there are.
func (r reader) kitLists(w where, tail string) ([]inventory.KitList, error) {
	l := kitLoader{reader: r, chosen: "(SELECT k.code, k.version FROM kit_list k" + w.String() + tail + ") c",
		args: w.args}
	for _, load := range []func() error{l.heads, l.lines, l.modules, l.rules} {
		if err := load(); err != nil || len(l.lists) == 0 {
			return nil, failure("read kit lists", "", err)
		}
	}
	return l.lists, nil
}

type kitLoader struct {
	reader
	chosen string // a derived table c of the chosen versions
	args   []any
	lists  []inventory.KitList
	index  map[inventory.ListVersion]*inventory.KitList
}

func (l *kitLoader) heads() error {
	var rows []kitListRow
	q := "SELECT k.* FROM kit_list k JOIN " + l.chosen +
		" ON c.code = k.code AND c.version = k.version ORDER BY k.code, k.version"
	if err := l.gorm().Raw(q, l.args...).Scan(&rows).Error; err != nil {
		return err
	}
	l.lists = mapped(rows, kitListRow.value)
	l.index = map[inventory.ListVersion]*inventory.KitList{}
	for i := range l.lists {
		l.index[l.lists[i].Key()] = &l.lists[i]
	}
	return nil
}

// part runs a query on a table t whose rows belong to a version, and on what is joined to it.
func (l *kitLoader) part(table, columns, order string, scan func(*sql.Rows, *inventory.ListVersion) error) error {
	var v inventory.ListVersion
	q := "SELECT t.list, t.version, " + columns + " FROM " + l.chosen + " JOIN " + table +
		" ORDER BY t.list, t.version, " + order
	return l.each(q, l.args, func(rows *sql.Rows) error { return scan(rows, &v) })
}

// ofVersion joins what belongs to the chosen versions.
const ofVersion = " t ON t.list = c.code AND t.version = c.version"

// lines reads each line once for each item that it accepts in place of its own.
func (l *kitLoader) lines() error {
	return l.part("kit_line"+ofVersion+
		" LEFT JOIN kit_accept a ON a.list = t.list AND a.version = t.version AND a.line = t.line",
		"t.line, t.item, t.pouch, t.par, t.minimum, t.critical, t.presence_only, t.carried_elsewhere, a.item",
		"t.line, a.rank", func(rows *sql.Rows, v *inventory.ListVersion) error {
			var line int
			var n inventory.Line
			var accepted code
			err := rows.Scan(&v.Code, &v.Version, &line, &n.Item, &n.Pouch, &n.Par, &n.Minimum, &n.Critical,
				&n.PresenceOnly, &n.CarriedElsewhere, &accepted)
			k := l.index[*v]
			if err != nil || k == nil {
				return err
			}
			if line == len(k.Lines) {
				k.Lines = append(k.Lines, n)
			}
			if accepted != "" {
				k.Lines[line].Accepts = append(k.Lines[line].Accepts, string(accepted))
			}
			return nil
		})
}

func (l *kitLoader) modules() error {
	return l.part("kit_module"+ofVersion, "t.module, t.count", "t.rank", func(rows *sql.Rows,
		v *inventory.ListVersion) error {
		var m inventory.Module
		err := rows.Scan(&v.Code, &v.Version, &m.KitList, &m.Count)
		if k := l.index[*v]; k != nil {
			k.Modules = append(k.Modules, m)
		}
		return err
	})
}

func (l *kitLoader) rules() error {
	return l.part("kit_rule"+ofVersion,
		"t.when_category, t.need_category, t.need_item, t.at_least, t.severity, t.because", "t.rank",
		func(rows *sql.Rows, v *inventory.ListVersion) error {
			var n inventory.KitRule
			var when, need, item code
			err := rows.Scan(&v.Code, &v.Version, &when, &need, &item, &n.AtLeast, &n.Severity, &n.Because)
			n.WhenCategory, n.NeedCategory, n.NeedItem = inventory.Category(when), inventory.Category(need), string(item)
			if k := l.index[*v]; k != nil {
				k.Rules = append(k.Rules, n)
			}
			return err
		})
}

func (w writer) AddKitList(k inventory.KitList) error {
	return w.step("add kit list", "that version of the kit list exists already", func() error {
		var latest int
		err := w.gorm().Raw("SELECT coalesce(max(version), 0) FROM kit_list WHERE code = ?", k.Code).Scan(&latest).Error
		switch {
		case err != nil:
			return err
		case k.Version == 1 && latest > 0:
			return inventory.Refuse(inventory.Conflict, "code already used")
		case k.Version <= latest:
			return stale("kit list")
		case k.Version != latest+1:
			return inventory.Refuse(inventory.Conflict, "versions must be consecutive")
		}
		return w.insertKitList(k)
	})
}

func (w writer) insertKitList(k inventory.KitList) error {
	head := convert[kitListRow](k)
	var linesOf []kitLineRow
	var accepts []kitAcceptRow
	for i, n := range k.Lines {
		linesOf = append(linesOf, kitLineRow{
			k.Code, k.Version, i, n.Item, n.Pouch, n.Par, n.Minimum, n.Critical, n.PresenceOnly, n.CarriedElsewhere,
		})
		for rank, item := range n.Accepts {
			accepts = append(accepts, kitAcceptRow{k.Code, k.Version, i, rank, item})
		}
	}
	var rules []kitRuleRow
	for i, n := range k.Rules {
		rules = append(rules, kitRuleRow{
			k.Code, k.Version, i, code(n.WhenCategory), code(n.NeedCategory), code(n.NeedItem), n.AtLeast, string(n.Severity),
			n.Because,
		})
	}
	var modules []kitModuleRow
	for i, m := range k.Modules {
		modules = append(modules, kitModuleRow{k.Code, k.Version, i, m.KitList, m.Count})
	}
	return cmp.Or(w.insert(head), w.insert(linesOf), w.insert(accepts), w.insert(modules), w.insert(rules))
}

// firstError runs functions until one fails.
func firstError(fns ...func() error) error {
	for _, fn := range fns {
		if err := fn(); err != nil {
			return err
		}
	}
	return nil
}
