package account

import (
	"stowkeeper/inventory"
)

// AboutAccess are the kinds that only who keeps people is shown.
var AboutAccess = []inventory.HistoryKind{
	inventory.DeedSignedIn, inventory.DeedSignedOut, inventory.DeedSignedOutAll, inventory.DeedLocked, inventory.DeedSignRefused, inventory.DeedPersonAdded, inventory.DeedPersonChanged, inventory.DeedSecretSet,
	inventory.DeedTokenAdded, inventory.DeedTokenRevoked, inventory.DeedTerminalAdded, inventory.DeedTerminalEnrolled, inventory.DeedTerminalRevoked,
}
