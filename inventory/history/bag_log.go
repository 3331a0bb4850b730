package history

import (
	"strconv"

	"stowkeeper/inventory"
)

// The kinds of entry in a bag's log.
const (
	LoggedVehicle      inventory.BagLogKind = "vehicle"
	LoggedStation      inventory.BagLogKind = "station"  // where it is: lent, or come home
	LoggedInside       inventory.BagLogKind = "inside"   // the bag that it is a module of
	LoggedModule       inventory.BagLogKind = "module"   // a module of it was swapped
	LoggedKitList      inventory.BagLogKind = "kit_list" // its list, or the version of it
	LoggedOutOfService inventory.BagLogKind = "out_of_service"
	LoggedReturned     inventory.BagLogKind = "return_to_service"
)

// ChangesOf lists what the log of a bag keeps of a change from one state of it
// to another. The entries lack person and time.
func ChangesOf(old, now inventory.Bag) []inventory.BagLogEntry {
	var out []inventory.BagLogEntry
	differ := func(kind inventory.BagLogKind, a, b string) {
		if a != b {
			out = append(out, inventory.BagLogEntry{Bag: now.Code, Kind: kind, Old: a, New: b})
		}
	}
	list := func(b inventory.Bag) string { return b.KitList + " " + strconv.Itoa(b.KitListVersion) }
	differ(LoggedVehicle, old.Vehicle, now.Vehicle)
	differ(LoggedStation, old.AtStation, now.AtStation)
	differ(LoggedInside, old.Inside, now.Inside)
	differ(LoggedKitList, list(old), list(now))
	switch {
	case old.OutOfService != nil && now.OutOfService == nil:
		out = append(out, inventory.BagLogEntry{Bag: now.Code, Kind: LoggedReturned})
	case now.OutOfService != nil && (old.OutOfService == nil || *old.OutOfService != *now.OutOfService):
		out = append(out, inventory.BagLogEntry{Bag: now.Code, Kind: LoggedOutOfService, Reason: now.OutOfService.Reason})
	}
	return out
}
