package storeroom

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// ContentsCard is what the card on the outside of a bag says of its inside.
type ContentsCard struct {
	Lines         []ContentsLine
	Earliest      inventory.Day // earliest governing date of all that lies in it; 0 where nothing ends
	LastFullCheck inventory.Day // at the bag's station; 0 where none was made
	Seal          string        // number of the seal that is on it; empty where none is known to be whole
}

// ContentsLine is an item in a pouch.
type ContentsLine struct {
	Pouch string // "" for none
	Item  string // its name
	Qty   int    // 0 where the list asks for its presence and no number
}

// besideList stands for the pouch of what the list does not ask for.
const besideList = "Not on the list"

// ContentsCardOf says what lies in a bag now, by pouches in the order of its list, each item once a pouch under its
// own name; what is not there is left out. Dates are those of the day on which now falls at the bag's station.
func ContentsCardOf(v inventory.BagView, now inventory.Instant) ContentsCard {
	c := ContentsCard{}
	if v.Bag.LastFullCheck != 0 {
		c.LastFullCheck = v.Station.Today(v.Bag.LastFullCheck)
	}
	if v.Bag.SealState == inventory.SealIntact {
		c.Seal = v.Bag.Seal
	}
	for _, g := range lists.ToCount(inventory.ChecklistOf(v, now, 0, 0)) {
		pouch := g.Pouch
		if g.NotOnList {
			pouch = besideList
		}
		for _, row := range g.Rows {
			for _, lot := range row.Lots {
				c.add(pouch, itemName(v, lot.Item), lot.Qty, row.PresenceOnly)
				if end := lot.UsableThrough; end != 0 && (c.Earliest == 0 || end < c.Earliest) {
					c.Earliest = end
				}
			}
		}
	}
	return c
}

// add puts units on the card: on the line of their item where the pouch has one.
func (c *ContentsCard) add(pouch, item string, qty int, presenceOnly bool) {
	if presenceOnly {
		qty = 0
	}
	for i := range c.Lines {
		if l := &c.Lines[i]; l.Pouch == pouch && l.Item == item {
			l.Qty += qty
			return
		}
	}
	c.Lines = append(c.Lines, ContentsLine{Pouch: pouch, Item: item, Qty: qty})
}

func itemName(v inventory.BagView, code string) string {
	if n := v.Items[code].Name; n != "" {
		return n
	}
	return code
}
