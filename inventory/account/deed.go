package account

import (
	"stowkeeper/inventory"
)

// AboutAccess are the kinds that only who keeps people is shown.
var AboutAccess = []inventory.HistoryKind{
	inventory.HistorySignedIn, inventory.HistorySignedOut, inventory.HistorySignedOutAll, inventory.HistoryLocked,
	inventory.HistorySignRefused, inventory.HistoryPersonAdded, inventory.HistoryPersonChanged, inventory.HistorySecretSet,
	inventory.HistoryTokenAdded, inventory.HistoryTokenRevoked, inventory.HistoryTerminalAdded,
	inventory.HistoryTerminalEnrolled, inventory.HistoryTerminalRevoked,
}
