package store

import "stowkeeper/inventory"

type productRow struct {
	ID             int64 `gorm:"primaryKey;autoIncrement"`
	Item           string
	GTIN           string `gorm:"column:gtin"`
	HIBC           string `gorm:"column:hibc"`
	MakerReference string
	Supplier       string
	PackSize       int
	Version        int64
}

func (productRow) TableName() string { return "product" }

// Product returns one product.
func (r reader) Product(id int64) (inventory.Product, error) {
	return take(r.gorm().Where("id = ?", id), "product", convert[inventory.Product, productRow])
}

// Products lists products by id.
func (r reader) Products(f inventory.ProductFilter, p inventory.Page) ([]inventory.Product, error) {
	q := r.gorm()
	for column, value := range map[string]string{"item": f.Item, "gtin": f.GTIN, "hibc": f.HIBC} {
		if value != "" {
			q = q.Where(column+" = ?", value)
		}
	}
	return list(q, "list products", p, byID, convert[inventory.Product, productRow])
}

// AddProduct adds a product at version 1 and gives it its id.
func (w writer) AddProduct(p inventory.Product) (inventory.Product, error) {
	p.Version = 1
	return keep[productRow](w, "add product", "", p)
}

// UpdateProduct changes everything of a product but its id.
func (w writer) UpdateProduct(p inventory.Product) (inventory.Product, error) {
	var out inventory.Product
	err := w.step("update product", "", func() (err error) {
		if err := w.newer("product", "product", "id", p.ID, p.Version, map[string]any{
			"item": p.Item, "gtin": p.GTIN, "hibc": p.HIBC, "maker_reference": p.MakerReference,
			"supplier": p.Supplier, "pack_size": p.PackSize,
		}); err != nil {
			return err
		}
		out, err = w.Product(p.ID)
		return err
	})
	return out, err
}
