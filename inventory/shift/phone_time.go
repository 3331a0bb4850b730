package shift

import "stowkeeper/inventory"

// DoneByPhone returns when something was done that a phone without signal kept: done is the phone's word for it, sent
// what its clock showed on sending. A phone whose clock is wrong was wrong by the same when it was done, so the
// difference is taken out; differences within ClockSkew are left alone. Nothing was done after now, or before there
// was a day; done 0 stays 0, which is just now.
func DoneByPhone(done, sent, now inventory.Instant) inventory.Instant {
	if done == 0 {
		return 0
	}
	if sent != 0 && (sent > now.Add(inventory.ClockSkew) || sent < now.Add(-inventory.ClockSkew)) {
		done += now - sent
	}
	if done < inventory.Earliest {
		return now
	}
	return min(done, now)
}
