package web

import (
	"cmp"

	"stowkeeper/inventory"
)

// names says what people call places and stations: a code is for a label.
type names struct {
	places   map[string]string // the person's own places
	stations map[string]string // every station
}

// called reads the names of places and stations.
func (s *server) called(v *visit) (names, error) {
	n := names{places: map[string]string{}}
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{}, inventory.Page{})
	if err != nil {
		return n, err
	}
	for _, p := range places {
		n.places[p.Code] = p.Name
	}
	n.stations, err = s.svc.Lists.StationNames(v.ctx(), v.actor)
	return n, err
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

// nameAt is the name of one of the places where units are.
func nameAt(at []AtRow, code string) string {
	for _, r := range at {
		if r.Place == code {
			return r.Name
		}
	}
	return ""
}
