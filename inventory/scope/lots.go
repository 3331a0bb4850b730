package scope

import (
	"stowkeeper/inventory"
)

// KnowsBatch refuses a batch of which no unit is or was at the actor's stations, as
// one that does not exist.
func KnowsBatch(a inventory.Actor, r inventory.Reader, batch int64) error {
	stations := a.StationsSeen()
	if len(stations) == 0 {
		return nil
	}
	moved, err := r.Movements(inventory.MovementFilter{Batch: batch, Stations: stations}, inventory.Page{Limit: 1})
	if err != nil || len(moved) > 0 {
		return err
	}
	stock, err := r.Stock(inventory.StockFilter{Batch: batch, Stations: stations}) // in a bag that was lent to one
	if err == nil && len(stock) == 0 {
		return inventory.Errorf(inventory.NotFound, "no such lot")
	}
	return err
}

// MaySee refuses a place at a station that is not the actor's. What lies in a bag
// is seen where the bag is, and by whoever owns it.
func MaySee(a inventory.Actor, r inventory.Reader, pl inventory.Place) error {
	if pl.Kind == inventory.KindBag && a.Must(inventory.ActSee, pl.Station) != nil {
		_, err := BagFor(r, a, pl.Code, inventory.ActSee)
		return err
	}
	return a.Must(inventory.ActSee, pl.Station)
}
