package ledger

import (
	"stowkeeper/inventory"
)

// CurrentStation returns the station where a place is: that of a bag may be another one
// than the station that owns it.
func (p *Unit) CurrentStation(pl inventory.Place) (inventory.Station, error) {
	if pl.Kind != inventory.KindBag {
		return p.Station(pl.Station)
	}
	b, err := p.W.Bag(pl.Code)
	if err != nil {
		return inventory.Station{}, err
	}
	return p.Station(b.AtStation)
}
