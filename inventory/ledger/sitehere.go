package ledger

import (
	"stowkeeper/inventory"
)

// CurrentSite returns the site where a place is: that of a bag may be another one
// than the site that owns it.
func (p *Unit) CurrentSite(pl inventory.Place) (inventory.Site, error) {
	if pl.Kind != inventory.KindBag {
		return p.Site(pl.Site)
	}
	b, err := p.W.Bag(pl.Code)
	if err != nil {
		return inventory.Site{}, err
	}
	return p.Site(b.AtSite)
}
