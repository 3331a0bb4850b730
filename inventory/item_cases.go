package inventory

import "context"

// CreateItem makes an item.
func (s *Service) CreateItem(ctx context.Context, by Actor, in Item) (Item, error) {
	return write(ctx, s, func(w Writer) (Item, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		in.Version = 1
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		return in, w.AddItem(in)
	})
}

// UpdateItem replaces an item. in.Version is the version that it replaces.
// What units of it are told apart by, and whether it is a medicine, which
// decides what printed dates mean, cannot change once there are lots.
func (s *Service) UpdateItem(ctx context.Context, by Actor, in Item) (Item, error) {
	return write(ctx, s, func(w Writer) (Item, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		old, err := w.Item(in.Code)
		if err != nil {
			return in, err
		}
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		if old.TrackedBy != in.TrackedBy || old.Category.Medicinal() != in.Category.Medicinal() {
			lots, err := w.Lots(LotFilter{Item: in.Code}, Page{Limit: 1})
			if err != nil {
				return in, err
			}
			if len(lots) > 0 {
				return in, Errorf(Conflict, "stock of this item exists, so how it is tracked and whether it is a medicine cannot change; make a new item instead")
			}
		}
		if err := keepsRegister(w, old, in); err != nil {
			return in, err
		}
		return w.UpdateItem(in)
	})
}

func checkItem(r Reader, in Item) error {
	cats, err := r.Categories()
	if err != nil {
		return err
	}
	if err := in.Check(cats); err != nil {
		return err
	}
	if in.PreferredProduct != 0 {
		pr, err := r.Product(in.PreferredProduct)
		if err == nil && pr.Item != in.Code {
			return Invalidf("preferred_product", "name a product of this item")
		}
		return known(err, "preferred_product", "product")
	}
	return nil
}

// Item returns one item.
func (s *Service) Item(ctx context.Context, by Actor, code string) (Item, error) {
	return read(ctx, s, func(r Reader) (Item, error) {
		if err := by.must(ActSee, ""); err != nil {
			return Item{}, err
		}
		return r.Item(NormalCode(code))
	})
}

// Items lists items.
func (s *Service) Items(ctx context.Context, by Actor, f ItemFilter, p Page) ([]Item, error) {
	return read(ctx, s, func(r Reader) ([]Item, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.Items(f, p)
	})
}
