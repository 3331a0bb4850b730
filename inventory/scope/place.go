package scope

import "stowkeeper/inventory"

// Narrowed keeps a filter on stations within the actor's own, and refuses a station that does not exist. Refuses:
// NotFound, Forbidden.
func Narrowed(a inventory.Actor, r inventory.Reader, stations []string) ([]string, error) {
	for _, code := range stations {
		if _, err := r.Station(code); err != nil {
			return nil, err
		}
	}
	return a.Narrow(stations)
}

// PlaceAsked refuses a list of what is at a place that does not exist or is at a station not the actor's. No place
// is none. Refuses: NotFound, Forbidden.
func PlaceAsked(a inventory.Actor, r inventory.Reader, code string) error {
	if code == "" {
		return nil
	}
	pl, err := r.Place(code)
	if err != nil || pl.Outside() {
		return err
	}
	return MaySee(a, r, pl)
}
