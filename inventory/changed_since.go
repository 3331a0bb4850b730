package inventory

import "slices"

// BagEvent is one thing that moved a bag's position on: stock that went in or
// out, a change of its seal, or a change of its list.
type BagEvent struct {
	By         string // empty for a change of its list
	HappenedAt Instant
	Moved      bool   // stock went in or out
	Incident   string // of a use
}

// ownSince tells whether all that changed a bag after somebody looked at it is their own doing, and no later than
// what they record now. So it is where a phone without signal shows a bag as it was before what was recorded there.
// What programs record is for people whom they do not name.
func ownSince(by Actor, at Instant, since []BagEvent) bool {
	return !by.Program && len(since) > 0 && !slices.ContainsFunc(since, func(e BagEvent) bool {
		return e.By != by.Name || e.HappenedAt > at
	})
}

// UnaffectedBy tells whether a check of a bag that changed since is in order all the same: the changes are the crew's
// own, and it does not depend on them. A full check does where stock moved, since nobody can tell whether they
// counted before that; a seal check does where another seal is on than they say.
func (c Check) UnaffectedBy(b Bag, by Actor, since []BagEvent) bool {
	if !ownSince(by, c.HappenedAt, since) {
		return false
	}
	if c.Kind == SealCheck {
		return b.Seal != "" && (c.SealBroken || SameSeal(c.SealSeen, b.Seal))
	}
	return !slices.ContainsFunc(since, func(e BagEvent) bool { return e.Moved })
}

// UnaffectedBy tells whether a use of a bag that changed since is in order all the same: the changes are the crew's
// own, and none of them is a use at the same incident, which may be this one reported twice.
func (u Use) UnaffectedBy(by Actor, since []BagEvent) bool {
	return ownSince(by, u.HappenedAt, since) && !slices.ContainsFunc(since,
		func(e BagEvent) bool { return e.Incident == u.Incident })
}
