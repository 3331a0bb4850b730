package ledger

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
)

// ReadBarcode tells what a pack's barcode says, and which products have its code. It changes nothing. Refuses:
// Forbidden without see; Invalid where it cannot be read, with the position.
func (s *Service) ReadBarcode(ctx context.Context, by inventory.Actor, text string) (inventory.PackFacts, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (inventory.PackFacts, error) {
		f, err := inventory.ReadPack(text, s.now().InUTC(), "text")
		if err != nil {
			return f, err
		}
		f.Products, err = ProductsWithCode(r, f.Scheme, f.ProductCode)
		if f.Products == nil {
			f.Products = []inventory.Product{}
		}
		return f, err
	})
}

// ProductsWithCode finds the products that have a code as Facts has it. A
// product's GTIN may be written shorter than in 14 digits.
func ProductsWithCode(r inventory.Reader, scheme barcode.Scheme, code string) ([]inventory.Product, error) {
	if code == "" {
		return nil, nil
	}
	if scheme == barcode.HIBC {
		return r.Products(inventory.ProductFilter{HIBC: code}, inventory.Page{})
	}
	var all []inventory.Product
	for _, form := range barcode.GTINForms(code) {
		some, err := r.Products(inventory.ProductFilter{GTIN: form}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	return all, nil
}

// fromCode completes a receipt with what its barcode says: the product and so the item, number and dates, and the
// units in so many packs. What was given beside the code fills in what it leaves out, and must agree with the rest.
func (u *Unit) fromCode(in inventory.Receipt, today inventory.Day) (inventory.Receipt, error) {
	if in.Barcode == "" {
		if in.Packs != 0 {
			return in, inventory.InvalidField("packs", "enter units: no code was scanned")
		}
		return in, nil
	}
	f, err := inventory.ReadPack(in.Barcode, today, "barcode")
	if err != nil {
		return in, err
	}
	found, err := ProductsWithCode(u.W, f.Scheme, f.ProductCode)
	if err != nil {
		return in, err
	}
	pr, err := f.ProductMeant(in, found)
	if err != nil {
		return in, err
	}
	it, err := u.Item(pr.Item)
	if err != nil {
		return in, err
	}
	return f.Applied(in, it, pr)
}
