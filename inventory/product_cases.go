package inventory

import "context"

// CreateProduct makes a product of an item.
func (s *Service) CreateProduct(ctx context.Context, by Actor, in Product) (Product, error) {
	return write(ctx, s, func(w Writer) (Product, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		in.Version = 1
		if err := in.Check(); err != nil {
			return in, err
		}
		if _, err := w.Item(in.Item); err != nil {
			return in, known(err, "item", "item")
		}
		return w.AddProduct(in)
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
		if err := in.Check(); err != nil {
			return in, err
		}
		if old.Item != in.Item {
			return in, Invalidf("item", "a product stays with its item; make a new product instead")
		}
		return w.UpdateProduct(in)
	})
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
