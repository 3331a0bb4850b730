package web

import "stowkeeper/inventory"

// lookups are the lists that many pages need, each read once for a visit. The
// first error is kept, so that pages need not look at each: with half of what it
// asked for, no page is sent and nothing is recorded.
type lookups struct {
	stationsRead []inventory.Station
	placesRead   []inventory.Place
	itemsRead    []inventory.Item
	byCode       map[string]inventory.Item
	failed       error
}

// lookUp reads a list unless it was read before.
func lookUp[T any](v *visit, kept *[]T, read func() ([]T, error)) []T {
	if *kept == nil && v.failed == nil {
		*kept, v.failed = read()
	}
	return *kept
}

// stations are the visitor's, in order of their codes.
func (v *visit) stations() []inventory.Station {
	return lookUp(v, &v.stationsRead, func() ([]inventory.Station, error) {
		return v.s.svc.Lists.Stations(v.ctx(), v.actor)
	})
}

// places are those of the visitor's stations, in order of their codes.
func (v *visit) places() []inventory.Place {
	return lookUp(v, &v.placesRead, func() ([]inventory.Place, error) {
		return v.s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{}, inventory.Page{})
	})
}

// items are all there are, in order of their codes.
func (v *visit) items() []inventory.Item {
	return lookUp(v, &v.itemsRead, func() ([]inventory.Item, error) {
		return v.s.svc.Lists.Items(v.ctx(), v.actor, inventory.ItemFilter{}, inventory.Page{})
	})
}

func (v *visit) itemsByCode() map[string]inventory.Item {
	if v.byCode == nil {
		v.byCode = map[string]inventory.Item{}
		for _, it := range v.items() {
			v.byCode[it.Code] = it
		}
	}
	return v.byCode
}
