package scope

import "stowkeeper/inventory"

// RecordsSeen keeps a filter on records within what the actor may see. Refuses: SignedOut, Forbidden, NotFound.
func RecordsSeen(a inventory.Actor, r inventory.Reader, f inventory.RecordFilter) (inventory.RecordFilter, error) {
	if f.Bag != "" {
		b, err := BagFor(r, a, f.Bag, inventory.ActSee)
		f.Bag = b.Code
		return f, err
	}
	if err := a.Must(inventory.ActSee, ""); err != nil {
		return f, err
	}
	stations, err := Narrowed(a, r, f.AtStations)
	f.AtStations = stations
	return f, err
}
