package web

import (
	"strings"

	"stowkeeper/inventory"
)

// DeliveryRow is a line of a delivery with the forms that mend it.
type DeliveryRow struct {
	inventory.DeliveryRow
	Name, Label string
	Newest      bool
	Href        string // of the lot, once it is put away
	Where       string
	Earlier     string // dates of the earlier record, in words
	Now         string // dates of this pack, in words
	Ways        []WayButton

	BatchNo, Serial, MadeOn, EndPrinted, EndWording, Packs, Units Field
	Item, PackSize, Supplier, Reason                              Field
}

// WayButton sends a line somewhere.
type WayButton struct {
	Way    inventory.WayIn
	Chosen bool
}

// deliveryRow makes the forms of a line, filled with what is known of it.
func deliveryRow(f *form, r inventory.DeliveryRow, d inventory.DeliveryPlan, items []inventory.Item) DeliveryRow {
	n := "." + formatID(int64(r.N))
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
	row.BatchNo = f.field(start("batch_no", r.DeliveryLine.BatchNo), "Batch number as printed")
	row.EndPrinted = f.field(start("end_printed", r.DeliveryLine.EndPrinted),
		"Date as printed").WithHint("2027-06 or 2027-06-14")
	row.EndWording = f.choice(start("end_wording", string(r.DeliveryLine.EndWording)), "Words beside the date",
		wordingOptions())
	row.MadeOn = f.field(start("made_on", r.DeliveryLine.MadeOn), "Date of manufacture as printed")
	row.Serial = f.field(start("serial", r.DeliveryLine.Serial), "Serial number as printed")
	row.Packs = f.numberField(start("packs", formatID(int64(r.DeliveryLine.Packs))), "How many packs").Need().
		WithHint("0 takes them out.")
	row.Units = f.numberField(start("units", numberOrNone(r.DeliveryLine.Units)),
		"Units in all").WithHint("Only where it is not packs times pack size.")
	row.Item = f.choice(start("item", ""), "Which item is it?", itemOptions(items, inventory.KitList{})).Need()
	row.PackSize = f.numberField(start("pack_size", ""), "Units in one pack").Need().WithHint("A box of ten is ten units.")
	row.Supplier = f.field(start("supplier", ""), "Bought from")
	row.Reason = f.field(start("reason", r.Reason), "Why the earlier record is wrong").
		WithHint("Only if this pack is right.")
	for _, w := range r.Ways {
		if len(r.Ways) > 1 || w != inventory.InPlace {
			row.Ways = append(row.Ways, WayButton{w, w == r.Way})
		}
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
	g := &form{values: f.values, fixes: map[string]string{}}
	for name, fix := range f.fixes {
		g.fixes[name] = fix
	}
	for _, x := range more {
		if g.fixes[x.Path+suffix] == "" {
			g.fixes[x.Path+suffix] = x.Fix
		}
	}
	return g
}

func numberOrNone(n int) string {
	if n == 0 {
		return ""
	}
	return formatID(int64(n))
}

// datesWords words the dates of a pack.
func datesWords(w inventory.Wording, end, made string) string {
	var parts []string
	if end != "" {
		parts = append(parts, wordingWords[w]+" "+end)
	}
	if made != "" {
		parts = append(parts, "made "+made)
	}
	if len(parts) == 0 {
		return "no date"
	}
	return strings.Join(parts, ", ")
}

// scannedWords says what a scan did.
func scannedWords(row DeliveryRow) string {
	name := row.Name
	if name == "" {
		name = "A code that is new here"
	}
	if row.Label != "" {
		name += ", " + row.Label
	}
	return name + ": " + count(row.DeliveryLine.Packs, "pack")
}
