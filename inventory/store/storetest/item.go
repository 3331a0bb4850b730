package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/money"
)

var itemPromises = []promise{
	{"an item is kept whole", itemKept},
	{"items are searched by part of code or name", itemsSearched},
	{"items are listed by code and category", itemsListed},
	{"an item is changed by version", itemUpdated},
	{"an item needs a category of the list", itemNeedsCategory},
	{"a product is kept whole", productKept},
	{"products are listed by item and code", productsListed},
	{"a product is changed by version", productUpdated},
	{"an item names its preferred product", preferredProduct},
}

// fullItem has every field set.
func fullItem() inventory.Item {
	return inventory.Item{
		Code: "SPLINT", Name: "Splint, Größe 2 (50%_a)", Category: inventory.CategoryImmobilisation, Unit: "each",
		TrackedBy: inventory.BySerial, Dated: true, SingleUse: true, Controlled: true,
		Life: inventory.Life{
			MadeMonths: 60, StowedMonths: 24, ExposedDays: 90, OpenedDays: 28, InspectDays: 182, TrainingCycles: 200,
		},
		InspectionPoints: []string{"no cracks", "label can be read"}, InspectionNotes: []string{"case clean"},
		LeadTimeDays: 14, Reserve: 6, Version: 1,
	}
}

func item(code string) func(inventory.Reader) (inventory.Item, error) {
	return func(r inventory.Reader) (inventory.Item, error) { return r.Item(code) }
}

func items(f inventory.ItemFilter) func(inventory.Reader) ([]inventory.Item, error) {
	return func(r inventory.Reader) ([]inventory.Item, error) { return r.Items(f, inventory.Page{}) }
}

func itemCode(it inventory.Item) string { return it.Code }

func itemKept(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddItem(fullItem()) })
	assert.Equal(c.t, fullItem(), got(c, item("SPLINT")))
	bare := inventory.Item{Code: "X", Name: "x", Category: inventory.CategoryOther, Unit: "each",
		TrackedBy: inventory.ByLot}
	c.write(func(w inventory.Writer) error { return w.AddItem(bare) })
	bare.Version = 1
	assert.Equal(c.t, bare, got(c, item("X")), "zeros stay zeros")
	absent(c, item("NONE"))
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddItem(bare) })
}

func itemsSearched(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddItem(fullItem()) })
	for text, found := range map[string]bool{
		"splint": true, "PLIN": true, "größe": true, "GRÖSSE": true, "50%_A": true, "5%a": false, "50__a": false,
		`50\%`:           false,
		"splint\nsplint": true, "spalt": false,
	} {
		want := []string(nil)
		if found {
			want = []string{"SPLINT"}
		}
		assert.Equal(c.t, want, codesOf(got(c, items(inventory.ItemFilter{Text: text})), itemCode), text)
	}
}

func itemsListed(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddItem(fullItem()) })
	list := func(f inventory.ItemFilter) []string { return codesOf(got(c, items(f)), itemCode) }
	assert.Equal(c.t, []string{bandage, "SPLINT", thermometer}, list(inventory.ItemFilter{}))
	assert.Equal(c.t, []string{bandage, thermometer}, list(inventory.ItemFilter{Codes: []string{thermometer, bandage,
		"NONE"}}))
	assert.Equal(c.t, []string{thermometer}, list(inventory.ItemFilter{Category: inventory.CategoryDiagnostic}))
	assert.Empty(c.t, list(inventory.ItemFilter{Category: inventory.CategoryDiagnostic, Text: "splint"}))
}

func itemUpdated(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddItem(fullItem()) })
	changed := inventory.Item{
		Code: "SPLINT", Name: "splint", Category: inventory.CategoryOther, Unit: "pair", TrackedBy: inventory.ByLot,
		Version: 1,
	}
	update := func(it inventory.Item) func(inventory.Writer) error {
		return func(w inventory.Writer) error {
			out, err := w.UpdateItem(it)
			if err == nil {
				it.Version = out.Version
				assert.Equal(c.t, it, out)
			}
			return err
		}
	}
	c.write(update(changed))
	c.refused(inventory.Stale, update(changed))
	changed.Version = 2
	assert.Equal(c.t, changed, got(c, item("SPLINT")), "zeros are stored too")
	assert.Empty(c.t, got(c, items(inventory.ItemFilter{Text: "größe"})), "the search follows the name")
	changed.Version = 0
	c.write(update(changed))
	changed.Code = "NONE"
	c.refused(inventory.NotFound, update(changed))
}

func itemNeedsCategory(c *scene) {
	it := fullItem()
	it.Category = "toy"
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddItem(it) })
	absent(c, item(it.Code))
}

func fullProduct() inventory.Product {
	return inventory.Product{
		Item: bandage, GTIN: "05012345678900", HIBC: "A123BJC5D6E71", MakerReference: "REF/1", Supplier: "Example Supplies",
		PackSize: 12, MinimumPacks: 2, Prices: []inventory.Price{{Amount: money.Amount{Minor: 1250, Currency: "EUR"},
			ValidFrom: noon.InUTC()}},
	}
}

func (c *scene) addProduct(p inventory.Product) inventory.Product {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		p, err = w.AddProduct(p)
		return err
	})
	return p
}

func productKept(c *scene) {
	want := fullProduct()
	p := c.addProduct(want)
	require := assert.New(c.t)
	require.NotZero(p.ID)
	want.ID, want.Version = p.ID, 1
	require.Equal(want, p)
	require.Equal(want, got(c, func(r inventory.Reader) (inventory.Product, error) { return r.Product(p.ID) }))
	absent(c, func(r inventory.Reader) (inventory.Product, error) { return r.Product(p.ID + 1) })
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddProduct(inventory.Product{Item: "NONE", PackSize: 1})
		return err
	})
}

func productsListed(c *scene) {
	a := c.addProduct(fullProduct())
	b := c.addProduct(inventory.Product{Item: bandage, PackSize: 1})
	d := c.addProduct(inventory.Product{Item: thermometer, PackSize: 1})
	list := func(f inventory.ProductFilter) []inventory.Product {
		return got(c, func(r inventory.Reader) ([]inventory.Product, error) { return r.Products(f, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Product{a, b, d}, list(inventory.ProductFilter{}))
	assert.Equal(c.t, []inventory.Product{a, b}, list(inventory.ProductFilter{Item: bandage}))
	assert.Equal(c.t, []inventory.Product{a, b}, list(inventory.ProductFilter{Items: []string{bandage, "NONE"}}))
	assert.Equal(c.t, []inventory.Product{a}, list(inventory.ProductFilter{GTIN: a.GTIN}))
	assert.Equal(c.t, []inventory.Product{a}, list(inventory.ProductFilter{HIBC: a.HIBC}))
	assert.Empty(c.t, list(inventory.ProductFilter{HIBC: a.HIBC, Item: thermometer}))
}

func productUpdated(c *scene) {
	p := c.addProduct(fullProduct())
	changed := inventory.Product{ID: p.ID, Item: thermometer, PackSize: 3, Version: p.Version}
	update := func(p inventory.Product) func(inventory.Writer) error {
		return func(w inventory.Writer) error {
			_, err := w.UpdateProduct(p)
			return err
		}
	}
	c.write(update(changed))
	c.refused(inventory.Stale, update(changed))
	changed.Version = 2
	assert.Equal(c.t, changed, got(c, func(r inventory.Reader) (inventory.Product, error) { return r.Product(p.ID) }))
	changed.ID++
	c.refused(inventory.NotFound, update(changed))
}

func preferredProduct(c *scene) {
	p := c.addProduct(fullProduct())
	it := got(c, item(bandage))
	for _, id := range []int64{p.ID, 0} {
		it.PreferredProduct, it.Version = id, 0
		c.write(func(w inventory.Writer) error {
			_, err := w.UpdateItem(it)
			return err
		})
		assert.Equal(c.t, id, got(c, item(bandage)).PreferredProduct)
	}
	it.PreferredProduct = p.ID + 1
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.UpdateItem(it)
		return err
	})
}
