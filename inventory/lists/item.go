package lists

import (
	"context"

	"stowkeeper/inventory"
)

// CreateItem makes an item. Refuses: Forbidden without keep_lists; Invalid by field; Conflict where the code is
// taken.
func (s *Service) CreateItem(ctx context.Context, by inventory.Actor, in inventory.Item) (inventory.Item, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Item, error) {
		if err := by.Must(inventory.ActKeepLists, ""); err != nil {
			return in, err
		}
		in.Version = 1
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		return in, w.AddItem(in)
	})
}

// UpdateItem replaces an item. in.Version is the version that it replaces, 0 for any. Refuses: Forbidden without
// keep_lists; NotFound; Invalid by field; Stale; Conflict for another unit or way of telling units apart, or becoming a
// medicine or none, which decides what printed dates mean, once there are lots; and for leaving the register, or
// another strength or form, once it has entries.
func (s *Service) UpdateItem(ctx context.Context, by inventory.Actor, in inventory.Item) (inventory.Item, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Item, error) {
		if err := by.Must(inventory.ActKeepLists, ""); err != nil {
			return in, err
		}
		old, err := w.Item(in.Code)
		if err != nil {
			return in, err
		}
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		if old.Unit != in.Unit || old.TrackedBy != in.TrackedBy || old.Category.Medicinal() != in.Category.Medicinal() {
			lots, err := w.Lots(inventory.LotFilter{Item: in.Code}, inventory.Page{Limit: 1})
			if err != nil {
				return in, err
			}
			if len(lots) > 0 {
				return in, inventory.Refuse(inventory.Conflict, "unit, tracking and medicine cannot change once in stock")
			}
		}
		if err := keepsRegister(w, old, in); err != nil {
			return in, err
		}
		return w.UpdateItem(in)
	})
}

func checkItem(r inventory.Reader, in inventory.Item) error {
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
			return inventory.InvalidField("preferred_product", "choose a product of this item")
		}
		return inventory.AsField(err, "preferred_product", "not found")
	}
	return nil
}

// Item returns one item. Refuses: Forbidden without see; NotFound.
func (s *Service) Item(ctx context.Context, by inventory.Actor, code string) (inventory.Item, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Item, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return inventory.Item{}, err
		}
		return r.Item(inventory.NormalCode(code))
	})
}

// Items lists items by code. Refuses: Forbidden without see.
func (s *Service) Items(ctx context.Context, by inventory.Actor, f inventory.ItemFilter,
	p inventory.Page) ([]inventory.Item, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Item, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		return r.Items(f, p)
	})
}
