package ledger

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// known is what a unit has looked up, each thing once. Lots are known until something is appended, inspected, trained
// with or corrected, since what they bear changes by that.
type known struct {
	places   map[string]inventory.Place
	items    map[string]inventory.Item
	stations map[string]inventory.Station
	bags     map[string]inventory.Bag
	held     map[string]bool // bags that are locked
	lots     map[int64]inventory.Lot
	receipts map[string]*inventory.ReceiptFacts // of items that are locked

	units      []inventory.Conversion // of all items
	unitsKnown bool

	reports   []inventory.UnderReview // about these bags, as this unit leaves them
	reportsOf []string
}

func newKnown() known {
	return known{places: map[string]inventory.Place{}, items: map[string]inventory.Item{},
		stations: map[string]inventory.Station{}, bags: map[string]inventory.Bag{}, held: map[string]bool{},
		lots: map[int64]inventory.Lot{}, receipts: map[string]*inventory.ReceiptFacts{}}
}

// Cached looks a value up once per unit of work.
func Cached[K comparable, T any](m map[K]T, key K, get func(K) (T, error)) (T, error) {
	if v, ok := m[key]; ok {
		return v, nil
	}
	v, err := get(key)
	if err == nil {
		m[key] = v
	}
	return v, err
}

func (u *Unit) Place(code string) (inventory.Place, error) { return Cached(u.places, code, u.W.Place) }
func (u *Unit) Item(code string) (inventory.Item, error)   { return Cached(u.items, code, u.W.Item) }
func (u *Unit) Station(code string) (inventory.Station, error) {
	return Cached(u.stations, code, u.W.Station)
}

// CurrentStation returns the station where a place is: that of a bag may be another one
// than the station that owns it.
func (u *Unit) CurrentStation(pl inventory.Place) (inventory.Station, error) {
	if pl.Kind != inventory.KindBag {
		return u.Station(pl.Station)
	}
	b, err := Cached(u.bags, pl.Code, u.W.Bag)
	if err != nil {
		return inventory.Station{}, err
	}
	return u.Station(b.AtStation)
}

// Hold tells the unit of a bag that the caller has locked.
func (u *Unit) Hold(b inventory.Bag) { u.bags[b.Code], u.held[b.Code] = b, true }

// inService refuses movements into a bag that is retired. The bag is locked
// first, so that nobody retires it meanwhile.
func (u *Unit) inService(code string) error {
	if !u.held[code] {
		b, err := u.W.LockBag(code)
		if err != nil {
			return err
		}
		u.Hold(b)
	}
	if u.bags[code].Retired() {
		return ErrRetired(message.M("nothing can be put into it"))
	}
	return nil
}

// know looks up what judging movements asks for, each kind of thing in one statement. What does not exist is left to
// the judging, which says where it was named.
func (u *Unit) know(ms []inventory.Movement) error {
	var lots []int64
	var places, into []string
	for _, m := range ms {
		lots, places, into = append(lots, m.LotID), append(places, m.From, m.To), append(into, m.To)
	}
	if err := u.KnowLots(lots); err != nil {
		return err
	}
	if err := u.knowPlaces(places); err != nil {
		return err
	}
	return u.knowBags(into)
}

// knowBags locks the bags among places that are known, and looks them up.
func (u *Unit) knowBags(places []string) error {
	bags := missing(u.held, places)
	bags = slices.DeleteFunc(bags, func(code string) bool { return u.places[code].Kind != inventory.KindBag })
	if len(bags) == 0 {
		return nil
	}
	if err := u.W.LockBags(bags); err != nil {
		return err
	}
	found, err := u.W.Bags(inventory.BagFilter{Codes: bags, Retired: true}, inventory.Page{})
	for _, b := range found {
		u.Hold(b)
	}
	return err
}

// KnowLots looks up lots and their items.
func (u *Unit) KnowLots(ids []int64) error {
	if unknown := missing(u.lots, ids); len(unknown) > 0 {
		lots, err := u.W.Lots(inventory.LotFilter{IDs: unknown}, inventory.Page{})
		if err != nil {
			return err
		}
		for _, l := range lots {
			u.lots[l.ID] = l
		}
	}
	codes := make([]string, 0, len(ids))
	for _, id := range ids {
		if l, ok := u.lots[id]; ok {
			codes = append(codes, l.Item)
		}
	}
	return u.knowItems(codes)
}

func (u *Unit) knowItems(codes []string) error {
	codes = missing(u.items, codes)
	if len(codes) == 0 {
		return nil
	}
	items, err := u.W.Items(inventory.ItemFilter{Codes: codes}, inventory.Page{})
	for _, it := range items {
		u.items[it.Code] = it
	}
	return err
}

// knowStations looks up all stations, which are few, where many of them may be asked for.
func (u *Unit) knowStations(asked int) error {
	if asked < 2 || len(u.stations) > 1 {
		return nil
	}
	all, err := u.W.Stations()
	for _, s := range all {
		u.stations[s.Code] = s
	}
	return err
}

// knowPlaces looks up places by their codes.
func (u *Unit) knowPlaces(codes []string) error {
	unknown := missing(u.places, codes)
	if len(unknown) == 0 {
		return nil
	}
	places, err := u.W.Places(inventory.PlaceFilter{Codes: unknown}, inventory.Page{})
	for _, pl := range places {
		u.places[pl.Code] = pl
	}
	return err
}

// missing returns the keys that are not known, sorted, each once.
func missing[K int64 | string, T any](m map[K]T, keys []K) []K {
	out := slices.DeleteFunc(slices.Clone(keys), func(k K) bool {
		_, there := m[k]
		return there
	})
	slices.Sort(out)
	return slices.Compact(out)
}
