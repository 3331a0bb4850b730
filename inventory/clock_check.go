package inventory

import "time"

// ClockCheck compares the service's clock with its newest record. A clock that is behind would date what is recorded
// wrongly, and call what has expired ready.
type ClockCheck struct{ Now, Newest Instant }

// How far the clock may be behind the newest record before people are warned, and before nothing is recorded or
// judged any more.
const (
	ClockWarnsAfter = time.Minute
	ClockStopsAfter = 24 * time.Hour
)

// Warns tells whether the clock is behind by more than what copies of the service may differ.
func (c ClockCheck) Warns() bool { return c.Newest > c.Now.Add(ClockWarnsAfter) }

// Err refuses to record and to judge while the clock is behind by more than a day: either it is wrong, or the newest
// record is, and an administrator says which. Refuses: Unavailable.
func (c ClockCheck) Err() error {
	if c.Newest <= c.Now.Add(ClockStopsAfter) {
		return nil
	}
	return Refuse(Unavailable, "The service's clock says {1}, its newest record is of {2}: an administrator must say "+
		"which is right.", c.Now.InUTC(), c.Newest.InUTC())
}

// ClockJumped tells whether a time that the service kept lies further ahead than any it can have kept. Sessions and
// locks do not outlast a clock that was set back.
func ClockJumped(kept, now Instant) bool { return kept > now.Add(ClockStopsAfter) }
