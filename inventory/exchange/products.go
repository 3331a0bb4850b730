package exchange

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/money"
)

// productRow is a product, and whether it is the one to buy of its item.
type productRow struct {
	inventory.Product
	Preferred bool     `json:"preferred"`
	Priced    []string `json:"prices"` // as they are written in a cell
}

func rowOf(p inventory.Product, preferred bool) productRow {
	row := productRow{p, preferred, nil}
	for _, x := range p.Prices {
		row.Priced = append(row.Priced, x.ValidFrom.String()+" "+x.Amount.String())
	}
	return row
}

// readPrices takes the prices over from their cell, which then says them as they are written here.
func (row *productRow) readPrices() error {
	row.Prices = nil
	var ps inventory.Problems
	for _, line := range row.Priced {
		part := append(strings.Fields(line), "", "", "")
		amount, ok := money.Of(part[1], part[2])
		day, err := inventory.ParseDay(part[0])
		ps.When(!ok || err != nil, "prices", "enter it as in {1}", "2027-06-14 12.50 EUR")
		row.Prices = append(row.Prices, inventory.Price{Amount: amount, ValidFrom: day})
	}
	row.Priced = rowOf(row.Product, false).Priced
	return ps.Err()
}

var productColumns = columnsOf[productRow]([]column{
	{"item", cellCode, "Item code", needed},
	{"gtin", cellText, "GTIN in 8, 12, 13 or 14 digits", optional},
	{"hibc", cellText, "HIBC primary code without + and check character", optional},
	{"maker_reference", cellText, "Maker's reference", optional},
	{"supplier", cellText, "Supplier", optional},
	{"pack_size", cellNumber, "Units in one pack; default: 1", kept},
	{"preferred", cellYes, "Preferred", optional},
	{"minimum_packs", cellNumber, "Fewest packs per order", optional},
	{"prices", cellLines, "Prices, each as in 2027-06-14 12.50 EUR", kept},
})

func (x *exporting) productRows(add func(productRow) error) error {
	items, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	preferred := map[int64]bool{}
	for _, it := range items {
		preferred[it.PreferredProduct] = true
	}
	all, err := x.r.Products(inventory.ProductFilter{}, inventory.Page{})
	return each(all, err, func(p inventory.Product) error { return add(rowOf(p, preferred[p.ID])) })
}

// product names a product among those of its item.
func (x *exporting) product(item string, id int64) (string, error) {
	if id == 0 {
		return "", nil
	}
	if len(x.products) == 0 {
		all, err := x.r.Products(inventory.ProductFilter{}, inventory.Page{})
		if err != nil {
			return "", err
		}
		for _, p := range all {
			x.products[p.Item] = append(x.products[p.Item], p)
		}
	}
	return productRef(x.products[item], id), nil
}

// productReader knows which products rows of this file were about: two rows are never about the same one.
type productReader struct {
	im   *importing
	seen map[int64]bool
}

func newProductReader(im *importing) (rowReader, error) {
	p := &productReader{im, map[int64]bool{}}
	return eachRow(p.product), nil
}

func (p *productReader) product(r *record) error {
	in := productRow{Product: inventory.Product{PackSize: 1}}
	productColumns.read(r, &in)
	wrong := in.readPrices()
	in.Product = in.Tidy()
	r.what = in.Item
	if wrong != nil {
		return r.refuse(inventory.MergeErrors(r.problems.Err(), wrong))
	}
	all, err := p.im.w.Products(inventory.ProductFilter{Item: in.Item}, inventory.Page{})
	if err != nil {
		return err
	}
	if i := p.alike(all, in.Product); i >= 0 {
		return p.change(r, all[i])
	}
	made, err := p.im.s.lists.CreateProduct(p.im.ctx, p.im.by, in.Product)
	if err == nil {
		p.seen[made.ID] = true
		err = p.prefer(made, in.Preferred)
	}
	return r.settled(Created, err)
}

// change brings a known product to what the file says.
func (p *productReader) change(r *record, was inventory.Product) error {
	it, err := p.im.w.Item(was.Item)
	if err != nil {
		return err
	}
	old := rowOf(was, it.PreferredProduct == was.ID)
	now := old
	productColumns.read(r, &now)
	if err := now.readPrices(); err != nil {
		return r.settled(Changed, err)
	}
	now.Product = now.Tidy()
	if sameGTIN(now.GTIN, was.GTIN) {
		now.GTIN = was.GTIN
	}
	if !reflect.DeepEqual(now.Product, was) {
		if _, err := p.im.s.lists.UpdateProduct(p.im.ctx, p.im.by, now.Product); err != nil {
			return r.settled(Changed, err)
		}
	}
	p.seen[was.ID] = true
	if reflect.DeepEqual(now, old) {
		return r.settled(Unchanged, nil)
	}
	return productColumns.changed(r, old, now, p.prefer(was, now.Preferred))
}

// prefer sets or clears the product to buy of an item.
func (p *productReader) prefer(in inventory.Product, preferred bool) error {
	it, err := p.im.w.Item(in.Item)
	if err != nil || (it.PreferredProduct == in.ID) == preferred {
		return err
	}
	it.PreferredProduct = 0
	if preferred {
		it.PreferredProduct = in.ID
	}
	_, err = p.im.s.lists.UpdateItem(p.im.ctx, p.im.by, it)
	return err
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

// productRef names a product among those of its item, by what alone tells it from the others: its GTIN, HIBC or
// maker's reference, else #2 for the second that was made. all are in the order of their ids.
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

// productFor is the product of an item that a cell names, 0 for an empty one.
func productFor(all []inventory.Product, ref string) (int64, error) {
	id, ok := productNamed(all, ref)
	if !ok && ref != "" {
		return 0, inventory.InvalidField("product", "enter a GTIN, HIBC or maker's reference of this item, or # and a number")
	}
	return id, nil
}

// productNamed finds the one product of an item that a reference names; none where it names several.
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
