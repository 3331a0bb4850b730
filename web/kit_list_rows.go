package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// The rows of a kit list's form: each is a group of fields named after what it is, its place on the form and the
// field, as in lines-3-item. A row of which nothing is filled in is none.
var (
	lineFields   = []string{"item", "pouch", "par", "minimum", "critical", "presence_only", "carried_elsewhere", "accepts"}
	moduleFields = []string{"kit_list", "count"}
	ruleFields   = []string{"when_category", "need_category", "need_item", "at_least", "severity", "because"}
)

func cellName(of string, row int, field string) string {
	return of + "-" + strconv.Itoa(row) + "-" + field
}

// rowCount is how many rows the form was sent with, up to a limit that is far above what a list may hold.
func (f *form) rowCount(of string) int {
	n, _ := strconv.Atoi(f.text(of + "-rows"))
	return max(0, min(n, 2*inventory.MaxLines))
}

// rows returns the rows that are filled in and not to be left out, in their order.
func (f *form) rows(of string, fields []string) []int {
	var rows []int
	for row := range f.rowCount(of) {
		filled := slices.ContainsFunc(fields, func(field string) bool { return f.text(cellName(of, row, field)) != "" })
		if !filled || f.text(cellName(of, row, "out")) != "" {
			continue
		}
		rows = append(rows, row)
	}
	return rows
}

// moved is which line a button of the form moves, and whether up.
func (f *form) moved() (row int, up, ok bool) {
	number, way, ok := strings.Cut(f.text("move"), ".")
	row, err := strconv.Atoi(number)
	return row, way == "up", ok && err == nil
}

// swapLines moves a line past the one above or beneath it, with all that is typed into both.
func (f *form) swapLines(row int, up bool) {
	other := row + 1
	if up {
		other = row - 1
	}
	if row < 0 || other < 0 || max(row, other) >= f.rowCount("lines") {
		return
	}
	for _, field := range append(slices.Clone(lineFields), "out") {
		a, b := cellName("lines", row, field), cellName("lines", other, field)
		f.values[a], f.values[b] = f.values[b], f.values[a]
	}
}

func setRow(to url.Values, of string, row int, pairs ...string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		to.Set(cellName(of, row, pairs[i]), pairs[i+1])
	}
}

// filledIn writes a number as a form has it: nothing for 0.
func filledIn(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func kitListValues(k inventory.KitList) url.Values {
	to := url.Values{}
	blank := blankLines
	if k.Code == "" {
		blank = newLines
	}
	for name, value := range map[string]string{
		"name": k.Name, "edition": k.Edition, "source": k.Source, "valid_from": k.ValidFrom.String(),
		"valid_to": k.ValidTo.String(),
		"sealed":   yes(k.Sealed), "seal_warns": yes(k.SealWarns), "seal_check_hours": strconv.Itoa(k.SealCheckHours),
		"full_check_days":    strconv.Itoa(k.FullCheckDays),
		"min_remaining_days": strconv.Itoa(k.MinRemainingDays), "version": strconv.Itoa(k.Version),
		"lines-rows": strconv.Itoa(len(k.Lines) + blank), "modules-rows": strconv.Itoa(len(k.Modules) + 1),
		"rules-rows": strconv.Itoa(len(k.Rules) + 1),
	} {
		to.Set(name, value)
	}
	for i, l := range k.Lines {
		minimum := filledIn(l.Minimum)
		if l.Par > 0 {
			minimum = strconv.Itoa(l.Minimum)
		}
		setRow(to, "lines", i, "item", l.Item, "pouch", l.Pouch, "par", filledIn(l.Par), "minimum", minimum,
			"critical", yes(l.Critical), "presence_only", yes(l.PresenceOnly),
			"carried_elsewhere", l.CarriedElsewhere, "accepts", strings.Join(l.Accepts, ", "))
	}
	for i, m := range k.Modules {
		setRow(to, "modules", i, "kit_list", m.KitList, "count", filledIn(m.Count))
	}
	for i, r := range k.Rules {
		setRow(to, "rules", i, "when_category", string(r.WhenCategory), "need_category", string(r.NeedCategory), "need_item",
			r.NeedItem, "at_least", filledIn(r.AtLeast), "severity", string(r.Severity), "because", r.Because)
	}
	return to
}

// readKitList reads the form. The names of the fields of an error are changed
// to those on the form by the function that it returns.
func readKitList(f *form, code string, items []inventory.Item) (inventory.KitList, func(path string) string) {
	k := inventory.KitList{Code: code, Name: f.text("name"), Edition: f.text("edition"), Source: f.text("source"),
		ValidFrom: f.day("valid_from"), ValidTo: f.day("valid_to"), Sealed: f.text("sealed") != "",
		SealWarns: f.text("seal_warns") != "", SealCheckHours: f.number("seal_check_hours"),
		FullCheckDays: f.number("full_check_days"), MinRemainingDays: f.number("min_remaining_days")}
	sent := map[string][]int{"lines": f.rows("lines", lineFields), "modules": f.rows("modules", moduleFields),
		"rules": f.rows("rules", ruleFields)}
	for _, row := range sent["lines"] {
		k.Lines = append(k.Lines, f.kitLine(row, items))
	}
	for _, row := range sent["modules"] {
		k.Modules = append(k.Modules, inventory.Module{KitList: inventory.NormalCode(f.text(cellName("modules", row,
			"kit_list"))), Count: f.number(cellName("modules", row, "count"))})
	}
	for _, row := range sent["rules"] {
		k.Rules = append(k.Rules, f.kitRule(row, items))
	}
	return k, func(path string) string {
		of, rest, ok := strings.Cut(path, "[")
		index, field, _ := strings.Cut(rest, "].")
		i, err := strconv.Atoi(index)
		if !ok || err != nil || i < 0 || i >= len(sent[of]) {
			return path
		}
		return cellName(of, sent[of][i], field)
	}
}

func (f *form) kitLine(row int, items []inventory.Item) inventory.Line {
	text := func(field string) string { return f.text(cellName("lines", row, field)) }
	l := inventory.Line{Item: itemCode(text("item"), items), Pouch: text("pouch"), Par: f.number(cellName("lines", row,
		"par")), Minimum: f.number(cellName("lines", row, "minimum")),
		Critical: text("critical") != "", PresenceOnly: text("presence_only") != "",
		CarriedElsewhere: text("carried_elsewhere")}
	if l.Par > 0 && text("minimum") == "" {
		f.wrong(cellName("lines", row, "minimum"), message.M("enter 0 or more"))
	}
	for _, a := range strings.FieldsFunc(text("accepts"), func(r rune) bool {
		return strings.ContainsRune(",; \t\r\n", r)
	}) {
		l.Accepts = append(l.Accepts, inventory.NormalCode(a))
	}
	return l
}

func (f *form) kitRule(row int, items []inventory.Item) inventory.KitRule {
	text := func(field string) string { return f.text(cellName("rules", row, field)) }
	return inventory.KitRule{WhenCategory: inventory.Category(text("when_category")),
		NeedCategory: inventory.Category(text("need_category")), NeedItem: itemCode(text("need_item"), items),
		AtLeast: f.number(cellName("rules", row, "at_least")), Severity: inventory.Severity(text("severity")),
		Because: text("because")}
}

// itemCode is the code of the item that was typed, by its code or by its name.
func itemCode(typed string, items []inventory.Item) string {
	for _, it := range items {
		if strings.EqualFold(it.Name, typed) {
			return it.Code
		}
	}
	return inventory.NormalCode(typed)
}
