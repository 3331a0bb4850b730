//go:build race

package inventorytest

import "runtime/debug"

// Under the detector a collection costs as much as the tests themselves, and memory is not what it looks for.
func init() {
	Raced = true
	debug.SetGCPercent(400)
}
