package scope

import (
	"slices"

	"stowkeeper/inventory"
)

// Unnamed leaves out where a device was inspected that was at a station not the
// actor's: that it was inspected, and how, matters wherever it is now.
func Unnamed(a inventory.Actor, r inventory.Reader, done []inventory.Inspection) ([]inventory.Inspection, error) {
	out, known := slices.Clone(done), map[string]bool{}
	for i, x := range out {
		if _, asked := known[x.Place]; !asked {
			pl, err := r.Place(x.Place)
			if err != nil {
				return nil, err
			}
			err = MaySee(a, r, pl)
			if known[x.Place] = err == nil; err != nil && inventory.KindOf(err) != inventory.Forbidden {
				return nil, err
			}
		}
		if !known[x.Place] {
			out[i].Place, out[i].Source, out[i].Note = "", "", ""
		}
	}
	return out, nil
}

// KnowsBatch refuses a batch of which no unit is or was at the actor's stations, as one that does not exist.
// Refuses: NotFound.
func KnowsBatch(a inventory.Actor, r inventory.Reader, batch int64) error {
	stations := a.StationsSeen()
	if len(stations) == 0 {
		return nil
	}
	moved, err := r.Movements(inventory.MovementFilter{Batch: batch, Stations: stations}, inventory.Page{Limit: 1})
	if err != nil || len(moved) > 0 {
		return err
	}
	stock, err := r.Stock(inventory.StockFilter{Batches: []int64{batch}, Stations: stations}) // in a bag lent to one
	if err == nil && len(stock) == 0 {
		return inventory.Refuse(inventory.NotFound, "not found")
	}
	return err
}

// MaySee refuses a place at a station that is not the actor's. What lies in a bag is seen where the bag is, and by
// whoever owns it. Refuses: SignedOut, Forbidden.
func MaySee(a inventory.Actor, r inventory.Reader, pl inventory.Place) error {
	if pl.Kind == inventory.KindBag && a.Must(inventory.ActSee, pl.Station) != nil {
		_, err := BagFor(r, a, pl.Code, inventory.ActSee)
		return err
	}
	return a.Must(inventory.ActSee, pl.Station)
}
