package lists

import (
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/ledger"
)

// CreateProduct makes a product of an item. Refuses: Forbidden without keep_lists; Invalid by field, also for a code
// that another product has.
func (s *Service) CreateProduct(ctx context.Context, by inventory.Actor, in inventory.Product) (inventory.Product,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.Product,
		error) {
		return AddProduct(w, in)
	})
}

// UpdateProduct replaces a product. in.Version is the version it replaces, 0 for any. Refuses: Forbidden without
// keep_lists; NotFound; Invalid by field, also for another item and for a code that another product has; Stale.
func (s *Service) UpdateProduct(ctx context.Context, by inventory.Actor, in inventory.Product) (inventory.Product,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.Product,
		error) {
		old, err := w.Product(in.ID)
		if err != nil {
			return in, err
		}
		in = in.Tidy()
		var ps inventory.Problems
		ps.When(old.Item != in.Item, "item", "the item of a product cannot change")
		if err := inventory.MergeErrors(in.Check(), ps.Err(), codesFree(w, in)); err != nil {
			return in, err
		}
		return w.UpdateProduct(in)
	})
}

// AddPrice adds what a pack of a product costs from a day on; the prices before it stay. Refuses: Forbidden without
// keep_lists; NotFound; Invalid by field; Stale.
func (s *Service) AddPrice(ctx context.Context, by inventory.Actor, id int64, p inventory.Price) (inventory.Product,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.Product,
		error) {
		pr, err := w.Product(id)
		if err != nil {
			return pr, err
		}
		path := "prices[" + strconv.Itoa(len(pr.Prices)) + "]"
		pr.Prices = append(slices.Clone(pr.Prices), p)
		if err := pr.Check(); err != nil {
			return pr, ledger.Renamed(ledger.Renamed(err, path+".amount", "amount"), path+".valid_from", "valid_from")
		}
		return w.UpdateProduct(pr)
	})
}

// Prefer makes a product the one to buy of its item. Refuses: Forbidden without keep_lists; NotFound.
func (s *Service) Prefer(ctx context.Context, by inventory.Actor, id int64) error {
	_, err := inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.Item,
		error) {
		pr, err := w.Product(id)
		if err != nil {
			return inventory.Item{}, err
		}
		it, err := w.Item(pr.Item)
		if err != nil || it.PreferredProduct == id {
			return it, err
		}
		it.PreferredProduct = id
		return w.UpdateItem(it)
	})
	return err
}

// AddProduct makes a product inside a unit of work. Refuses: Invalid by field, also for a code that another has.
func AddProduct(w inventory.Writer, in inventory.Product) (inventory.Product, error) {
	in = in.Tidy()
	in.Version = 1
	_, err := w.Item(in.Item)
	if err := inventory.MergeErrors(in.Check(), inventory.AsField(err, "item", "not found"), codesFree(w,
		in)); err != nil {
		return in, err
	}
	return w.AddProduct(in)
}

// codesFree refuses a code that another product has: a scan of it must mean
// one. Two written at one moment may both be kept; receiving then asks which.
func codesFree(r inventory.Reader, in inventory.Product) error {
	var ps inventory.Problems
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
		have, err := ledger.ProductsWithCode(r, code.scheme, code.is)
		if err != nil {
			return err
		}
		for _, other := range have {
			ps.When(other.ID != in.ID, code.path, "product {1} of item {2} has this code", other.ID, other.Item)
		}
	}
	return ps.Err()
}

// Product returns one product. Refuses: Forbidden without see; NotFound.
func (s *Service) Product(ctx context.Context, by inventory.Actor, id int64) (inventory.Product, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (inventory.Product, error) {
		return r.Product(id)
	})
}

// Products lists products by id. Refuses: Forbidden without see.
func (s *Service) Products(ctx context.Context, by inventory.Actor, f inventory.ProductFilter,
	p inventory.Page) ([]inventory.Product, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.Product, error) {
		return r.Products(f, p)
	})
}
