package inventory

import (
	"strings"
)

// SealState is what is known of a bag's seal.
type SealState string

// The states of a seal.
const (
	SealNone      SealState = ""          // no seal is recorded
	SealIntact    SealState = "intact"    // set, and not seen otherwise since
	SealBroken    SealState = "broken"    // seen broken, with no full check or use since
	SealDifferent SealState = "different" // another number seen, with no full check or use since
)

// SealEvent is what happened to a seal.
type SealEvent string

// The events in a log of seals.
const (
	SealWasSet     SealEvent = "set"
	SealSeen       SealEvent = "seen"      // in order
	SealSeenBroken SealEvent = "broken"    // broken or gone
	SealSeenOther  SealEvent = "different" // another number
	SealOpened     SealEvent = "opened"    // opened for a full check, a use or a restock
)

// SealEntry is one line of a bag's log of seals.
type SealEntry struct {
	ID         int64     `json:"id"`
	Bag        string    `json:"bag"`
	HappenedAt Instant   `json:"happened_at" format:"date-time"`
	By         string    `json:"by"`
	Event      SealEvent `json:"event"`
	Number     string    `json:"number,omitempty" doc:"The number set or seen"`
	Expected   string    `json:"expected,omitempty" doc:"The number expected"`
	Source     string    `json:"source" doc:"What it was recorded with: check 12, use 3, restock 7, report"`
	Note       string    `json:"note,omitempty"`
}

// SealUnsettled tells whether the seal was found broken or different and
// nobody has looked inside since: a new seal alone does not settle that.
func (r BagRecord) SealUnsettled() bool {
	return r.SealState == SealBroken || r.SealState == SealDifferent
}

// KnowsLater tells whether something later is known of a bag's seal than a report made at an instant by somebody who
// saw a position: it was set or seen since, or the bag changed and was opened since.
func (r BagRecord) KnowsLater(seen int64, at Instant) bool {
	return r.SealSeenAt > at || seen != r.Position && r.lastOpened() > at
}

func (r BagRecord) lastOpened() Instant { return max(r.LastFullCheck, r.LastUse, r.LastRestock) }

// KnownAfter tells whether somebody saw the seal or the contents after an instant.
func (r BagRecord) KnownAfter(at Instant) bool { return max(r.SealSeenAt, r.lastOpened()) > at }

// SameSeal compares seal numbers as people read them.
func SameSeal(a, b string) bool { return FoldSeal(a) == FoldSeal(b) }

// FoldSeal is a seal number as people compare it: case and blanks apart.
func FoldSeal(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }
