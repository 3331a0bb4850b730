package ledger

import (
	"stowkeeper/inventory"
)

// StowReason is the reason with which units from a kind of place come into a
// bag.
func StowReason(from inventory.PlaceKind) inventory.Reason {
	switch from {
	case inventory.KindBag:
		return inventory.ReasonTransfer
	case inventory.KindAway:
		return inventory.ReasonReturn
	}
	return inventory.ReasonStow
}
