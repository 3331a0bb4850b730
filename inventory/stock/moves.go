package stock

import (
	"slices"

	"stowkeeper/inventory"
)

// MayBeMoved tells whether units in a place are moved, disposed of and returned by hand: a bag is restocked instead,
// and what is away comes back first.
func MayBeMoved(p inventory.Place) bool {
	return slices.Contains([]inventory.PlaceKind{inventory.KindStore, inventory.KindCarrier, inventory.KindQuarantine},
		p.Kind)
}

// ReasonToMove returns why units go by hand from one place to another of their station; false where they do not. What
// goes to another station is sent.
func ReasonToMove(from, to inventory.Place) (inventory.Reason, bool) {
	if !MayBeMoved(from) || !MayBeMoved(to) || from.Station != to.Station || from.Code == to.Code {
		return "", false
	}
	for _, why := range []inventory.Reason{inventory.ReasonTransfer, inventory.ReasonStow, inventory.ReasonReturn,
		inventory.ReasonQuarantine, inventory.ReasonRelease} {
		if inventory.Allowed(from, to, why, "") == nil {
			return why, true
		}
	}
	return "", false
}

// ToTheBin returns the movements that dispose of what has expired in a place on a day, one for each lot. Left out are
// units under a notice, which whoever answers it disposes of, controlled ones, which two people sign for, and training
// stock, which may be older.
func ToTheBin(place inventory.Place, held []LotSummary, items map[string]inventory.Item,
	day inventory.Day) []inventory.Movement {
	var out []inventory.Movement
	for _, l := range held {
		it := items[l.Item]
		if !MayBeMoved(place) || place.Purpose != inventory.ForIssue || it.Controlled || len(l.Withdrawn) > 0 ||
			!inventory.PastEnd(it, l.Lot, day) {
			continue
		}
		for _, w := range l.Where {
			if w.Place == place.Code {
				out = append(out, inventory.Movement{LotID: l.ID, Qty: w.Qty, From: place.Code,
					To: string(inventory.KindDisposed), Reason: inventory.ReasonDisposed, Cause: inventory.CauseExpired})
			}
		}
	}
	return out
}
