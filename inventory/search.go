package inventory

import (
	"slices"
)

// SharesStation tells whether a person belongs to a station of the actor's.
func (a Actor) SharesStation(p Person) bool {
	seen := a.StationsSeen()
	return len(seen) == 0 || len(p.Stations) == 0 || slices.ContainsFunc(p.Stations,
		func(s string) bool { return slices.Contains(seen, s) })
}
