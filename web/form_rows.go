package web

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// indexed takes a path such as lines[3].reason apart.
func indexed(path, list string) (i int, field string, ok bool) {
	rest, ok := strings.CutPrefix(path, list+"[")
	if !ok {
		return 0, "", false
	}
	number, field, ok := strings.Cut(rest, "].")
	i, err := strconv.Atoi(number)
	return i, field, ok && err == nil && i >= 0
}

// lineNames turns the path of a wrong field of a line into its name on the form,
// whose rows the lines came from: of the same field, or of the only one there.
func lineNames(rows []string, only string) func(path string) string {
	return func(path string) string {
		if i, field, ok := indexed(path, "lines"); ok && i < len(rows) {
			return rows[i] + "." + cmp.Or(only, field)
		}
		return path
	}
}

// rowsWith lists the rows of a form in a fixed order: the names of one of their fields, that field's own part apart.
func rowsWith(f *form, prefix, field string) []string {
	var rows []string
	for name := range f.values {
		if row, ok := strings.CutSuffix(name, field); ok && strings.HasPrefix(row, prefix) {
			rows = append(rows, row)
		}
	}
	slices.SortFunc(rows, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b)) })
	return rows
}

// lotAt names a lot and a place in the names of fields.
func lotAt(lot int64, place string) string { return formatID(lot) + "@" + place }

// splitLotAt takes such a name apart; what tells pouches apart follows it.
func splitLotAt(s string) (lot int64, place string) {
	number, place, _ := strings.Cut(s, "@")
	place, _, _ = strings.Cut(place, "@")
	return idOf(number), place
}

// yes is what a box sends that is ticked.
func yes(ticked bool) string {
	if ticked {
		return "yes"
	}
	return ""
}

// placeOptions lists the places that will do, those of a station first.
func placeOptions(places []inventory.Place, station string, will func(p inventory.Place) bool) []Option {
	var near, far []Option
	for _, p := range places {
		o := Option{Value: p.Code, Text: message.M("{1}, {2}", p.Name, p.Code)}
		switch {
		case !will(p):
		case p.Station == station:
			near = append(near, o)
		default:
			far = append(far, o)
		}
	}
	return append(near, far...)
}

// itemOptions lists items to choose from, those of a kit list first.
func itemOptions(items []inventory.Item, k inventory.KitList) []Option {
	listed := map[string]bool{}
	for _, code := range k.Items() {
		listed[code] = true
	}
	var first, rest []Option
	for _, it := range items {
		o := Option{Value: it.Code, Text: message.Plain(it.Name)}
		if listed[it.Code] {
			first = append(first, o)
		} else {
			rest = append(rest, o)
		}
	}
	return append(first, rest...)
}
