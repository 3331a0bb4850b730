package stock

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// FindBag returns the bag whose code somebody typed or scanned: case and
// blanks apart, and also with its hyphens and full stops left out where that
// names one bag only.
func (s *Service) FindBag(ctx context.Context, by inventory.Actor, typed string) (inventory.Bag, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Bag, error) {
		b, err := scope.BagFor(r, by, typed, inventory.ActSee)
		if inventory.KindOf(err) != inventory.NotFound {
			return b, err
		}
		all, listErr := r.Bags(inventory.BagFilter{AtStations: by.StationsSeen(), Retired: true}, inventory.Page{})
		if listErr != nil {
			return inventory.Bag{}, listErr
		}
		var found []inventory.Bag
		for _, x := range all {
			if scope.BareCode(x.Code) == scope.BareCode(typed) {
				found = append(found, x)
			}
		}
		if len(found) != 1 {
			return inventory.Bag{}, err
		}
		return found[0], nil
	})
}

// DeviceLot returns the lot that a device is in now. The label of a device
// holds the lot that it was in when it was printed, and a device whose clocks
// have changed since is in another lot of its batch.
func (s *Service) DeviceLot(ctx context.Context, by inventory.Actor, printed int64) (int64, error) {
	l, err := s.Lot(ctx, by, printed)
	if inventory.KindOf(err) == inventory.NotFound || err == nil && !l.Device() {
		return 0, inventory.Errorf(inventory.NotFound, "no device has this label")
	}
	for _, other := range append(l.SameBatch, l.LotSummary) {
		if len(other.Where) > 0 {
			return other.ID, nil
		}
	}
	return l.ID, err
}
