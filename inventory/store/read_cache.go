package store

import (
	"fmt"
	"slices"

	"stowkeeper/inventory"
)

// recalling is the reader of a unit of work that only reads: nothing changes under it, so that it answers what it was
// asked before from memory. It keeps what pages ask for again and again; what only exports read, page by page, goes
// past it. Lists are handed out as copies, since callers sort them; what stands inside their elements is shared, and
// not to be changed.
type recalling struct {
	reader
	seen map[any]any
}

// recall returns the answer that was given under a key, or asks. A failure is not an answer.
func recall[T any](r recalling, key any, ask func() (T, error)) (T, error) {
	if v, ok := r.seen[key]; ok {
		return v.(T), nil
	}
	v, err := ask()
	if err == nil {
		r.seen[key] = v
	}
	return v, err
}

// single is the key of one thing.
type single[T any] struct{ key any }

func one[K comparable, T any](r recalling, key K, ask func(K) (T, error)) (T, error) {
	return recall(r, single[T]{key}, func() (T, error) { return ask(key) })
}

// many recalls a list by what narrows it. Where there is a key, each element answers for itself later.
func many[T any](r recalling, narrowedBy any, ask func() ([]T, error), key func(T) any) ([]T, error) {
	list, err := recall(r, fmt.Sprintf("%T %#v", *new(T), narrowedBy), func() ([]T, error) {
		list, err := ask()
		for _, v := range list {
			if key == nil || err != nil {
				break
			}
			r.seen[single[T]{key(v)}] = v
		}
		return list, err
	})
	return slices.Clone(list), err
}

func filtered[F, T any](r recalling, f F, ask func(F) ([]T, error)) ([]T, error) {
	return many(r, f, func() ([]T, error) { return ask(f) }, nil)
}

func paged[F, T any](r recalling, f F, p inventory.Page, ask func(F, inventory.Page) ([]T, error),
	key func(T) any) ([]T, error) {
	return many(r, []any{f, p}, func() ([]T, error) { return ask(f, p) }, key)
}

// Station looks one up among all, which are few.
func (r recalling) Station(code string) (inventory.Station, error) {
	if _, err := r.Stations(); err != nil {
		return inventory.Station{}, err
	}
	return one(r, code, r.reader.Station)
}

func (r recalling) Stations() ([]inventory.Station, error) {
	return many(r, nil, r.reader.Stations, func(s inventory.Station) any { return s.Code })
}

func (r recalling) Place(code string) (inventory.Place, error) { return one(r, code, r.reader.Place) }

func (r recalling) Places(f inventory.PlaceFilter, p inventory.Page) ([]inventory.Place, error) {
	return paged(r, f, p, r.reader.Places, func(x inventory.Place) any { return x.Code })
}

func (r recalling) Item(code string) (inventory.Item, error) { return one(r, code, r.reader.Item) }

func (r recalling) Items(f inventory.ItemFilter, p inventory.Page) ([]inventory.Item, error) {
	return paged(r, f, p, r.reader.Items, func(it inventory.Item) any { return it.Code })
}

func (r recalling) Product(id int64) (inventory.Product, error) { return one(r, id, r.reader.Product) }

func (r recalling) Products(f inventory.ProductFilter, p inventory.Page) ([]inventory.Product, error) {
	return paged(r, f, p, r.reader.Products, func(x inventory.Product) any { return x.ID })
}

func (r recalling) KitList(code string, version int) (inventory.KitList, error) {
	return one(r, inventory.ListVersion{Code: code, Version: version},
		func(v inventory.ListVersion) (inventory.KitList, error) { return r.reader.KitList(v.Code, v.Version) })
}

func (r recalling) KitLists(p inventory.Page) ([]inventory.KitList, error) {
	return many(r, []any{"latest", p}, func() ([]inventory.KitList, error) { return r.reader.KitLists(p) },
		func(k inventory.KitList) any { return inventory.ListVersion{Code: k.Code} })
}

func (r recalling) KitListVersions(of []inventory.ListVersion) ([]inventory.KitList, error) {
	return many(r, of, func() ([]inventory.KitList, error) { return r.reader.KitListVersions(of) },
		func(k inventory.KitList) any { return k.Key() })
}

func (r recalling) Bag(code string) (inventory.Bag, error) { return one(r, code, r.reader.Bag) }

func (r recalling) Bags(f inventory.BagFilter, p inventory.Page) ([]inventory.Bag, error) {
	return paged(r, f, p, r.reader.Bags, func(b inventory.Bag) any { return b.Code })
}

func (r recalling) Lot(id int64) (inventory.Lot, error) { return one(r, id, r.reader.Lot) }

func (r recalling) Stock(f inventory.StockFilter) ([]inventory.Stock, error) {
	if len(f.Lots)+len(f.Batches) > 100 { // of an export or import, which comes once
		return r.reader.Stock(f)
	}
	return filtered(r, f, r.reader.Stock)
}

func (r recalling) Observations(f inventory.ObservationFilter) ([]inventory.Observation, error) {
	return filtered(r, f, r.reader.Observations)
}

func (r recalling) UnderReview(f inventory.UnderReviewFilter) ([]inventory.UnderReview, error) {
	return filtered(r, f, r.reader.UnderReview)
}

func (r recalling) OwedEntries(f inventory.OwedFilter) ([]inventory.OwedEntry, error) {
	return filtered(r, f, r.reader.OwedEntries)
}

func (r recalling) BalanceChecks(f inventory.BalanceFilter) ([]inventory.BalanceCheck, error) {
	return filtered(r, f, r.reader.BalanceChecks)
}

func (r recalling) Discrepancies(f inventory.DiscrepancyFilter) ([]inventory.Discrepancy, error) {
	return filtered(r, f, r.reader.Discrepancies)
}

func (r recalling) RegisterKeys() ([]inventory.PageKey, error) {
	return many(r, nil, r.reader.RegisterKeys, nil)
}

func (r recalling) Notices(f inventory.NoticeFilter, p inventory.Page) ([]inventory.Notice, error) {
	return paged(r, f, p, r.reader.Notices, func(n inventory.Notice) any { return n.ID })
}

func (r recalling) Notice(id int64) (inventory.Notice, error) { return one(r, id, r.reader.Notice) }

func (r recalling) Person(id int64) (inventory.Person, error) { return one(r, id, r.reader.Person) }
