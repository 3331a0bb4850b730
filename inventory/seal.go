package inventory

import (
	"strings"
)

// KnowsLater tells whether something later is known of a bag's seal than a
// report made at an instant by somebody who saw a position: it was set or seen
// since, or the bag changed and was opened since.
func (r BagRecord) KnowsLater(seen int64, at Instant) bool {
	opened := max(r.LastFullCheck, r.LastUse, r.LastRestock)
	return r.SealSeenAt > at || seen != r.Position && opened > at
}

// SameSeal compares seal numbers as people read them: case and blanks apart.
func SameSeal(a, b string) bool {
	fold := func(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }
	return fold(a) == fold(b)
}
