package web

import (
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// FoundFields are the fields of one thing found in a bag that is not listed.
type FoundFields struct {
	What, Item, Qty, BatchNo, Serial, EndPrinted, EndWording Field
}

const (
	foundRows    = 2  // rows to start with
	foundRowsMax = 50 // and at most
)

// unidentified is the choice for what bears no batch or date.
const unidentified = "unidentified"

var foundOptions = []Option{
	{Value: string(inventory.FoundStock), Text: message.M("with batch or date")},
	{Value: unidentified, Text: message.M("batch or date unreadable")},
	{Value: string(inventory.FoundTrainingMark), Text: message.M("marked for training")},
}

func foundField(i int, field string) string { return "found[" + strconv.Itoa(i) + "]." + field }

// foundCount is how many rows the form has, those asked for with "more" included.
func foundCount(f *form) int {
	n := foundRows
	for f.values.Has(foundField(n, "what")) && n < foundRowsMax {
		n++
	}
	if f.text("more") != "" {
		n = min(n+foundRows, foundRowsMax)
	}
	return n
}

func foundFields(f *form, items []Option, next []NextBag) []FoundFields {
	kinds := slices.Concat(foundOptions, fromOptions("from {1}", next))
	out := make([]FoundFields, foundCount(f))
	for i := range out {
		name := func(field string) string { return foundField(i, field) }
		out[i] = FoundFields{
			What:       f.choice(name("what"), message.M("Type"), keepChosen(kinds, f.values.Get(name("what")))),
			Item:       f.choice(name("item"), message.M("Item"), items),
			Qty:        f.numberField(name("qty"), message.M("Quantity")),
			BatchNo:    f.field(name("batch_no"), message.M("Batch number")),
			Serial:     f.field(name("serial"), message.M("Serial number")),
			EndPrinted: f.field(name("end_printed"), message.M("Date on pack")).WithHint(message.M("2027-06 or 2027-06-14")),
			EndWording: f.choice(name("end_wording"), message.M("Date wording on pack"),
				wordingOptions()).WithHint(message.M("Needed for medicines. Default: expiry")),
		}
	}
	return out
}

// readFound reads the rows that were filled in, and which row each came from.
func readFound(f *form) (lines []inventory.FoundLine, rows []int) {
	for i := range foundCount(f) {
		get := func(field string) string { return f.text(foundField(i, field)) }
		if get("item") == "" && get("what") == "" && get("batch_no") == "" && get("qty") == "" {
			continue
		}
		l := inventory.FoundLine{Item: get("item"), Qty: f.number(foundField(i, "qty")), BatchNo: get("batch_no"),
			Serial: get("serial"), EndPrinted: get("end_printed"), EndWording: inventory.Wording(get("end_wording")),
			Reason: inventory.FoundReason(get("what"))}
		bag, taken := strings.CutPrefix(get("what"), fromPrefix)
		switch what := get("what"); {
		case taken:
			l.CameFrom, l.Reason = bag, inventory.FoundStock
		case what == "":
			f.wrong(foundField(i, "what"), message.M("choose from the list"))
		case what == unidentified:
			l.Unidentified, l.Reason = true, inventory.FoundStock
		}
		lines, rows = append(lines, l), append(rows, i)
	}
	return lines, rows
}

// foundName turns the path of a wrong field of a find into the field's name on
// the form, where blank rows lie between.
func foundName(path string, rows []int) string {
	i, field, ok := indexed(path, "found")
	if !ok || i >= len(rows) {
		return path
	}
	if field == "reason" || field == "came_from" {
		field = "what"
	}
	return foundField(rows[i], field)
}

func anyFilled(rows []FoundFields) bool {
	for _, r := range rows {
		if r.What.Value+r.Item.Value+r.Qty.Value+r.BatchNo.Value != "" {
			return true
		}
	}
	return false
}
