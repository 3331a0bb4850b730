package web

import (
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
)

// DeliveryRow is a line of a delivery with the forms that mend it.
type DeliveryRow struct {
	storeroom.DeliveryRow
	Name    string
	Label   message.Message
	Newest  bool
	Href    string // of the lot, once it is put away
	Where   string
	Earlier message.Message // dates of the earlier record, in words
	Now     message.Message // dates of this pack, in words

	BatchNo, Serial, MadeOn, EndPrinted, EndWording, Packs, Units Field
	Item, PackSize, Supplier, Reason                              Field
}

// deliveryRow makes the forms of a line, filled with what is known of it.
func deliveryRow(f *form, r storeroom.DeliveryRow, d storeroom.DeliveryPlan, items []inventory.Item) DeliveryRow {
	n := "." + strconv.Itoa(r.N)
	f = f.withFixes(r.Problems, n)
	row := DeliveryRow{DeliveryRow: r, Name: r.Is.Name, Label: lotLabel(r.DeliveryLine.BatchNo, r.DeliveryLine.Serial)}
	if d.Status == inventory.DeliveryPutAway && r.LotID != 0 {
		row.Href = "/lots/" + formatID(r.LotID)
	}
	start := func(name, value string) string {
		if !f.values.Has(name + n) {
			f.values.Set(name+n, value)
		}
		return name + n
	}
	row.BatchNo = f.field(start("batch_no", r.DeliveryLine.BatchNo), message.M("Batch number"))
	row.EndPrinted = f.field(start("end_printed", r.DeliveryLine.EndPrinted),
		message.M("Date on pack")).WithHint(message.M("2027-06 or 2027-06-14"))
	row.EndWording = f.choice(start("end_wording", string(r.DeliveryLine.EndWording)), message.M("Date wording on pack"),
		wordingOptions())
	row.MadeOn = f.field(start("made_on", r.DeliveryLine.MadeOn), message.M("Date of manufacture"))
	row.Serial = f.field(start("serial", r.DeliveryLine.Serial), message.M("Serial number"))
	row.Packs = f.numberField(start("packs", strconv.Itoa(r.DeliveryLine.Packs)), message.M("Packs")).Need().
		WithHint(message.M("0 removes the line"))
	row.Units = f.numberField(start("units", filledIn(r.DeliveryLine.Units)),
		message.M("Total units")).WithHint(message.M("Only if not packs × pack size"))
	row.Item = f.choice(start("item", ""), message.M("Item"), itemOptions(items, inventory.KitList{})).Need()
	row.PackSize = f.numberField(start("pack_size", ""),
		message.M("Units per pack")).Need().WithHint(message.M("Box of ten: 10"))
	row.Supplier = f.field(start("supplier", ""), message.M("Supplier"))
	row.Reason = f.field(start("reason", r.Reason), message.M("Reason")).
		WithHint(message.M("Only if this pack is right"))
	if slices.Equal(r.Ways, []inventory.WayIn{inventory.InPlace}) {
		row.Ways = nil // nothing to choose
	}
	if r.Earlier != nil {
		row.Earlier = datesWords(r.Earlier.EndWording, r.Earlier.EndPrinted, r.Earlier.MadeOn.String())
		row.Now = datesWords(r.DeliveryLine.EndWording, r.DeliveryLine.EndPrinted, r.DeliveryLine.MadeOn)
	}
	return row
}

// withFixes is the form with what trying to put a line away found wrong with
// its fields, beside what was found before. It is shown at the fields alone.
func (f *form) withFixes(more []inventory.Field, suffix string) *form {
	g := &form{values: f.values, fixes: map[string]message.Message{}}
	for name, fix := range f.fixes {
		g.fixes[name] = fix
	}
	for _, x := range more {
		if g.fixes[x.Path+suffix] == nil {
			g.fixes[x.Path+suffix] = x.Fix
		}
	}
	return g
}

func datesWords(w inventory.Wording, end, made string) message.Message {
	var parts []message.Message
	if end != "" {
		parts = append(parts, printedWords(w, end))
	}
	if made != "" {
		parts = append(parts, message.M("made {1}", made))
	}
	if len(parts) == 0 {
		return message.M("no date")
	}
	return message.Join(", ", parts...)
}

func scannedWords(row DeliveryRow) message.Message {
	name := orElse(message.Plain(row.Name), message.M("New code"))
	return message.M("{1}: {2} {2|pack|packs}", message.Join(", ", name, row.Label), row.DeliveryLine.Packs)
}
