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

func (p productRow) value() inventory.Product {
	return inventory.Product{
		ID: p.ID, Item: p.Item, GTIN: p.GTIN, HIBC: p.HIBC, MakerReference: p.MakerReference,
		Supplier: p.Supplier, PackSize: p.PackSize, Version: p.Version,
	}
}

// Product returns one product.
func (r reader) Product(id int64) (inventory.Product, error) {
	var row productRow
	err := r.gorm().Where("id = ?", id).Take(&row).Error
	return row.value(), missing("read product", "product", err)
}

// Products lists products by id.
func (r reader) Products(f inventory.ProductFilter, p inventory.Page) ([]inventory.Product, error) {
	q := r.gorm()
	for column, value := range map[string]string{"item": f.Item, "gtin": f.GTIN, "hibc": f.HIBC} {
		if value != "" {
			q = q.Where(column+" = ?", value)
		}
	}
	return list(q, "list products", p, byID, productRow.value)
}

// AddProduct adds a product at version 1 and gives it its id.
func (w writer) AddProduct(p inventory.Product) (inventory.Product, error) {
	row := productRow{
		Item: p.Item, GTIN: p.GTIN, HIBC: p.HIBC, MakerReference: p.MakerReference,
		Supplier: p.Supplier, PackSize: p.PackSize, Version: 1,
	}
	err := w.add("add product", "", &row)
	return row.value(), err
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
