package web

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
)

// lookups are the lists that many pages need, each read once for a visit. The first error is kept, so that pages need
// not look at each: with half of what it asked for, no page is sent and nothing is recorded.
type lookups struct {
	stationsRead []inventory.Station
	placesRead   []inventory.Place
	itemsRead    []inventory.Item
	byCode       map[string]inventory.Item
	productsRead []inventory.Product
	kitListsRead []inventory.KitList
	bagStations  map[string]string
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
	return slices.DeleteFunc(slices.Clone(v.everyStation()), inventory.Station.Closed)
}

// everyStation is also those that are closed.
func (v *visit) everyStation() []inventory.Station {
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

// placesOf are those of the visitor's stations that a filter leaves: all bags are many.
func (v *visit) placesOf(f inventory.PlaceFilter) []inventory.Place {
	all, err := v.s.svc.Lists.Places(v.ctx(), v.actor, f, inventory.Page{})
	v.failed = cmp.Or(v.failed, err)
	return all
}

// KitLists is how a page names modules by the codes of their kit lists.
type KitLists []inventory.KitList

// Named is the name of a kit list, its code where there is none of that code.
func (all KitLists) Named(code string) string {
	for _, k := range all {
		if k.Code == code {
			return k.Name
		}
	}
	return code
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

// products are those of all items, in order of their ids.
func (v *visit) products() []inventory.Product {
	return lookUp(v, &v.productsRead, func() ([]inventory.Product, error) {
		return v.s.svc.Lists.Products(v.ctx(), v.actor, inventory.ProductFilter{}, inventory.Page{})
	})
}

// kitLists are all there are in their newest versions, in order of their codes.
func (v *visit) kitLists() []inventory.KitList {
	return lookUp(v, &v.kitListsRead, func() ([]inventory.KitList, error) {
		return v.s.svc.Lists.KitLists(v.ctx(), v.actor, inventory.Page{})
	})
}

func (v *visit) categories() []Option {
	all, err := v.s.svc.Lists.Categories(v.ctx(), v.actor)
	v.failed = cmp.Or(v.failed, err)
	out := make([]Option, len(all))
	for i, c := range all {
		out[i] = Option{Value: string(c), Text: c.Text()}
	}
	return out
}

// stationOfBag is where a bag is, for its time zone; retired bags have one too.
func (v *visit) stationOfBag(bag string) inventory.Station {
	if v.bagStations == nil {
		v.bagStations = map[string]string{}
		all, err := v.s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{Retired: true}, inventory.Page{})
		v.failed = cmp.Or(v.failed, err)
		for _, b := range all {
			v.bagStations[b.Code] = b.AtStation
		}
	}
	return v.station(v.bagStations[bag])
}
