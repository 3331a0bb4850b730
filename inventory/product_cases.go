package inventory

import (
	"context"

	"stowkeeper/inventory/barcode"
)

// CreateProduct makes a product of an item.
func (s *Service) CreateProduct(ctx context.Context, by Actor, in Product) (Product, error) {
	return write(ctx, s, func(w Writer) (Product, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		return addProduct(w, in)
	})
}

// UpdateProduct replaces a product. in.Version is the version it replaces.
func (s *Service) UpdateProduct(ctx context.Context, by Actor, in Product) (Product, error) {
	return write(ctx, s, func(w Writer) (Product, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		old, err := w.Product(in.ID)
		if err != nil {
			return in, err
		}
		in = in.tidy()
		var ps problems
		ps.when(old.Item != in.Item, "item", "a product stays with its item; make a new product instead")
		if err := joined(in.Check(), ps.err(), codesFree(w, in)); err != nil {
			return in, err
		}
		return w.UpdateProduct(in)
	})
}

func addProduct(w Writer, in Product) (Product, error) {
	in = in.tidy()
	in.Version = 1
	_, err := w.Item(in.Item)
	if err := joined(in.Check(), known(err, "item", "item"), codesFree(w, in)); err != nil {
		return in, err
	}
	return w.AddProduct(in)
}

// codesFree refuses a code that another product has: a scan of it must mean
// one. Two written at one moment may both be kept; receiving then asks which.
func codesFree(r Reader, in Product) error {
	var ps problems
	for _, code := range []struct {
		path   string
		scheme barcode.Scheme
		is     string
		valid  func(string) bool
	}{{"gtin", barcode.GS1, in.GTIN, barcode.ValidGTIN}, {"hibc", barcode.HIBC, in.HIBC, barcode.ValidHIBC}} {
		if !code.valid(code.is) {
			continue
		}
		if code.path == "gtin" {
			code.is = barcode.GTIN14(code.is)
		}
		have, err := productsWithCode(r, code.scheme, code.is)
		if err != nil {
			return err
		}
		for _, other := range have {
			ps.when(other.ID != in.ID, code.path, "product %d, of item %s, has this code already; change that one, or leave this out", other.ID, other.Item)
		}
	}
	return ps.err()
}

// Product returns one product.
func (s *Service) Product(ctx context.Context, by Actor, id int64) (Product, error) {
	return read(ctx, s, func(r Reader) (Product, error) {
		if err := by.must(ActSee, ""); err != nil {
			return Product{}, err
		}
		return r.Product(id)
	})
}

// Products lists products.
func (s *Service) Products(ctx context.Context, by Actor, f ProductFilter, p Page) ([]Product, error) {
	return read(ctx, s, func(r Reader) ([]Product, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.Products(f, p)
	})
}
