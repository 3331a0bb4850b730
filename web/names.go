package web

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// names says what people call places and stations: a code is for a label.
type names struct {
	places   map[string]string // the person's own places
	stations map[string]string // every station
}

func (v *visit) called() names {
	n := names{places: map[string]string{}}
	for _, p := range v.places() {
		n.places[p.Code] = p.Name
	}
	var err error
	n.stations, err = v.s.svc.Lists.StationNames(v.ctx(), v.actor)
	v.failed = cmp.Or(v.failed, err)
	return n
}

// place names a place; one that is not the person's shows as its code.
func (n names) place(code string) string { return cmp.Or(n.places[code], code) }

func (n names) station(code string) string { return cmp.Or(n.stations[code], code) }

// placeText is a place's name with its code, as its label has it.
func placeText(p inventory.Place) string {
	if p.Name == "" || p.Name == p.Code {
		return p.Code
	}
	return p.Name + ", " + p.Code
}

func nameAt(at []AtRow, code string) string {
	for _, r := range at {
		if r.Place == code {
			return r.Name
		}
	}
	return ""
}

func placeName(places []inventory.Place, code string) string {
	for _, p := range places {
		if p.Code == code {
			return p.Name
		}
	}
	return code
}

// placeOf returns the place where a device is. A bag that is lent to the
// person's station is found as well; its station is then the one where it is.
func (s *server) placeOf(v *visit, where []stock.AtPlace) inventory.Place {
	if len(where) == 0 {
		return inventory.Place{}
	}
	return s.placeAt(v, where[0].Place)
}

func (s *server) placeAt(v *visit, code string) inventory.Place {
	i := slices.IndexFunc(v.places(), func(p inventory.Place) bool { return p.Code == code })
	if i >= 0 {
		return v.places()[i]
	}
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, code)
	if err != nil {
		return inventory.Place{}
	}
	p := b.Place()
	p.Station = b.AtStation
	return p
}

func nameOf(items map[string]inventory.Item, code string) string {
	if it, ok := items[code]; ok && it.Name != "" {
		return it.Name
	}
	return code
}
