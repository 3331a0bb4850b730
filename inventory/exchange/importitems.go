package exchange

import (
	"cmp"
	"reflect"
	"slices"
	"stowkeeper/inventory/barcode"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

var itemColumns = []column{
	{"code", cellCode, "code given by people", true},
	{"name", cellText, "name as the trade says it", true},
	{"category", cellText, "one of the categories", true},
	{"unit", cellText, "what one of it is: each, pair, roll …; each if left out", false},
	{"tracked_by", cellText, "lot or serial; lot if left out", false},
	{"dated", cellYes, "whether packs bear a date and a batch number that must be recorded", false},
	{"single_use", cellYes, "used on one patient and then at its end", false},
	{"controlled", cellYes, "a controlled item", false},
	{"strength", cellText, "of a medicine, as in 10 mg in 1 ml", false},
	{"form", cellText, "of a medicine, as in ampoule", false},
	{"made_months", cellNumber, "usable for so many months after manufacture", false},
	{"stowed_months", cellNumber, "usable for so many months after it was first stowed in a bag", false},
	{"exposed_days", cellNumber, "usable for so many days carried exposed", false},
	{"opened_days", cellNumber, "usable for so many days after opening", false},
	{"inspect_days", cellNumber, "an inspection is due every so many days", false},
	{"training_cycles", cellNumber, "applications in training that wear a device out", false},
	{"inspection_points", cellLines, "what an inspection looks at, one a line", false},
	{"inspection_notes", cellLines, "what it looks at as well, and only notes", false},
	{"lead_time_days", cellNumber, "days from order to delivery", false},
}

func importItem(r *record) error {
	code := r.code("code")
	old, err := r.im.w.Item(code)
	known := err == nil
	if err != nil && inventory.KindOf(err) != inventory.NotFound {
		return err
	}
	in := old
	if !known {
		in = inventory.Item{Code: code, Unit: "each", TrackedBy: inventory.ByLot}
	}
	r.fillItem(&in)
	switch {
	case !known:
		_, err = r.im.s.lists.CreateItem(r.im.ctx, r.im.by, in)
		return r.im.settled(r, Created, code, err)
	case !reflect.DeepEqual(in, old):
		_, err = r.im.s.lists.UpdateItem(r.im.ctx, r.im.by, in)
		return r.im.changed(r, code, itemRow(old), itemRow(in), err)
	}
	return r.im.settled(r, Unchanged, code, nil)
}

func (r *record) fillItem(it *inventory.Item) {
	r.setText(&it.Name, "name")
	if r.has("category") {
		it.Category = inventory.Category(r.text("category"))
	}
	if r.has("unit") {
		it.Unit = cmp.Or(r.text("unit"), "each")
	}
	if r.has("tracked_by") {
		it.TrackedBy = inventory.Tracking(cmp.Or(strings.ToLower(r.text("tracked_by")), string(inventory.ByLot)))
	}
	r.setYes(&it.Dated, "dated")
	r.setYes(&it.SingleUse, "single_use")
	r.setYes(&it.Controlled, "controlled")
	r.setText(&it.Strength, "strength")
	r.setText(&it.Form, "form")
	for name, field := range map[string]*int{
		"made_months": &it.Life.MadeMonths, "stowed_months": &it.Life.StowedMonths, "exposed_days": &it.Life.ExposedDays,
		"opened_days":  &it.Life.OpenedDays,
		"inspect_days": &it.Life.InspectDays, "training_cycles": &it.Life.TrainingCycles, "lead_time_days": &it.LeadTimeDays,
	} {
		r.setNumber(field, name)
	}
	if r.has("inspection_points") {
		it.InspectionPoints = r.lines("inspection_points")
	}
	if r.has("inspection_notes") {
		it.InspectionNotes = r.lines("inspection_notes")
	}
}

var productColumns = []column{
	{"item", cellCode, "item code", true},
	{"gtin", cellText, "GTIN in 8, 12, 13 or 14 digits", false},
	{"hibc", cellText, "HIBC primary code without + and check character", false},
	{"maker_reference", cellText, "the maker's catalogue number", false},
	{"supplier", cellText, "who sells it", false},
	{"pack_size", cellNumber, "units in one pack; 1 if left out", false},
	{"preferred", cellYes, "the one to buy", false},
}

// productReader knows which products rows of this file were about: two rows
// are never about the same one.
type productReader struct {
	im   *importing
	seen map[int64]bool
}

func newProductReader(im *importing) rowReader { return &productReader{im, map[int64]bool{}} }

func (p *productReader) end() error { return nil }

func (p *productReader) row(r *record) error {
	in := inventory.Product{Item: r.code("item"), GTIN: r.text("gtin"), HIBC: r.text("hibc"),
		MakerReference: r.text("maker_reference"),
		Supplier:       r.text("supplier"), PackSize: 1}.Tidy()
	if r.text("pack_size") != "" {
		in.PackSize = r.number("pack_size")
	}
	preferred := r.yes("preferred")
	all, err := p.im.w.Products(inventory.ProductFilter{Item: in.Item}, inventory.Page{})
	if err != nil {
		return err
	}
	out := Unchanged
	var was inventory.Product
	i := p.alike(all, in)
	switch {
	case i < 0:
		in, err = p.im.s.lists.CreateProduct(p.im.ctx, p.im.by, in)
		out = Created
	default:
		was = all[i]
		in.ID, in.Version = was.ID, was.Version
		p.leave(r, &in, was)
		if in != was {
			in, err = p.im.s.lists.UpdateProduct(p.im.ctx, p.im.by, in)
			out = Changed
		}
	}
	if err != nil {
		return p.im.settled(r, out, in.Item, err)
	}
	p.seen[in.ID] = true
	return p.prefer(r, was, in, preferred, out)
}

// leave keeps what the file has no column for.
func (p *productReader) leave(r *record, in *inventory.Product, was inventory.Product) {
	for name, field := range map[string][2]*string{"gtin": {&in.GTIN, &was.GTIN}, "hibc": {&in.HIBC, &was.HIBC},
		"maker_reference": {&in.MakerReference, &was.MakerReference}, "supplier": {&in.Supplier, &was.Supplier}} {
		if !r.has(name) {
			*field[0] = *field[1]
		}
	}
	if !r.has("pack_size") {
		in.PackSize = was.PackSize
	}
	if sameGTIN(in.GTIN, was.GTIN) {
		in.GTIN = was.GTIN
	}
}

// sameGTIN tells whether two GTINs are one, zeros before it apart.
func sameGTIN(a, b string) bool {
	return a == b || a != "" && b != "" && barcode.GTIN14(a) == barcode.GTIN14(b)
}

// alike finds the product of an item that a row is about: by its codes, else
// by reference, supplier and pack together.
func (p *productReader) alike(all []inventory.Product, in inventory.Product) int {
	return slices.IndexFunc(all, func(x inventory.Product) bool {
		switch {
		case p.seen[x.ID]:
			return false
		case in.GTIN != "" || x.GTIN != "":
			return sameGTIN(in.GTIN, x.GTIN)
		case in.HIBC != "" || x.HIBC != "":
			return in.HIBC == x.HIBC
		}
		return in.MakerReference == x.MakerReference && in.Supplier == x.Supplier && in.PackSize == x.PackSize
	})
}

// prefer sets or clears the product to buy of an item.
func (p *productReader) prefer(r *record, was, in inventory.Product, preferred bool, out Outcome) error {
	it, err := p.im.w.Item(in.Item)
	if err != nil {
		return err
	}
	is := it.PreferredProduct == in.ID
	if !r.has("preferred") || is == preferred {
		return p.settled(r, out, productRow(was, is), productRow(in, is), nil)
	}
	it.PreferredProduct = 0
	if preferred {
		it.PreferredProduct = in.ID
	}
	_, err = p.im.s.lists.UpdateItem(p.im.ctx, p.im.by, it)
	if out == Unchanged {
		out = Changed
	}
	return p.settled(r, out, productRow(was, is), productRow(in, preferred), err)
}

func (p *productReader) settled(r *record, out Outcome, was, now inventory.ExportRow, err error) error {
	if out == Changed {
		return p.im.changed(r, now["item"], was, now, err)
	}
	return p.im.settled(r, out, now["item"], err)
}

// productRef names a product among those of its item, by what alone tells it
// from the others: its GTIN, HIBC or maker's reference, else #2 for the second
// that was made. all are in the order of their ids.
func productRef(all []inventory.Product, id int64) string {
	for i, x := range all {
		if x.ID != id {
			continue
		}
		for _, ref := range []string{x.GTIN, x.HIBC, x.MakerReference} {
			if found, ok := productNamed(all, ref); ok && found == id {
				return ref
			}
		}
		return "#" + strconv.Itoa(i+1)
	}
	return ""
}

func errProductRef() error {
	return inventory.Invalidf("product",
		"name one product of this item by its GTIN, HIBC or maker's reference, or by # and its number")
}

// productNamed finds the one product of an item that a reference names; none
// where it names several.
func productNamed(all []inventory.Product, ref string) (id int64, ok bool) {
	if ref == "" {
		return 0, false
	}
	if n, err := strconv.Atoi(strings.TrimPrefix(ref, "#")); err == nil && ref[0] == '#' {
		if n < 1 || n > len(all) {
			return 0, false
		}
		return all[n-1].ID, true
	}
	code := inventory.Product{GTIN: ref, HIBC: ref}.Tidy()
	for _, is := range []func(inventory.Product) bool{
		func(x inventory.Product) bool { return sameGTIN(x.GTIN, code.GTIN) },
		func(x inventory.Product) bool { return x.HIBC == code.HIBC },
		func(x inventory.Product) bool { return x.MakerReference == ref },
	} {
		var found []int64
		for _, x := range all {
			if is(x) {
				found = append(found, x.ID)
			}
		}
		if len(found) > 0 {
			return found[0], len(found) == 1
		}
	}
	return 0, false
}
