package history

import (
	"time"

	"stowkeeper/inventory"
)

// ClockCheck compares the service's clock with its newest record. A clock that is behind would date what is recorded
// wrongly, and call what has expired ready.
type ClockCheck struct{ Now, Newest inventory.Instant }

// ClockWarnsAfter is how far the clock may be behind the newest record before people are warned.
const ClockWarnsAfter = time.Minute

// Warns tells whether the clock is behind by more than what copies of the service may differ.
func (c ClockCheck) Warns() bool { return c.Newest > c.Now.Add(ClockWarnsAfter) }

// Err refuses to record and to judge while the clock is behind by more than a day: either it is wrong, or the newest
// record is, and an administrator says which. Refuses: Unavailable.
func (c ClockCheck) Err() error {
	if c.Newest <= c.Now.Add(inventory.ClockStopsAfter) {
		return nil
	}
	return inventory.Refuse(inventory.Unavailable, "The service's clock says {1}, its newest record is of {2}: "+
		"an administrator must say which is right.", c.Now.InUTC(), c.Newest.InUTC())
}
