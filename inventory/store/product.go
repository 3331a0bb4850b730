package store

import "stowkeeper/inventory"

type productRow struct {
	ID                       int64
	Item                     string
	GTIN                     string `gorm:"column:gtin"`
	HIBC                     string `gorm:"column:hibc"`
	MakerReference, Supplier string
	PackSize, MinimumPacks   int
	Version                  int64
	Prices                   lines[inventory.Price]
}

func (r reader) Product(id int64) (inventory.Product, error) {
	return take[inventory.Product, productRow](r, "product", "id = ?", id)
}

func (r reader) Products(f inventory.ProductFilter, p inventory.Page) ([]inventory.Product, error) {
	var w where
	given(&w, "item = ?", f.Item)
	among(&w, "item IN ?", f.Items)
	given(&w, "gtin = ?", f.GTIN)
	given(&w, "hibc = ?", f.HIBC)
	return list[inventory.Product, productRow](r, "list products", w, p, byID)
}

func (w writer) AddProduct(p inventory.Product) (inventory.Product, error) {
	p.Version = 1
	return keep[productRow](w, "add product", "", p)
}

// UpdateProduct changes everything of a product but its id.
func (w writer) UpdateProduct(p inventory.Product) (inventory.Product, error) {
	row := convert[productRow](p)
	return change(w, "update product", func() error { return w.newer(&row, p.Version) },
		func() (inventory.Product, error) { return w.Product(p.ID) })
}
