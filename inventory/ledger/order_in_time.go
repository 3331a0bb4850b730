package ledger

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
)

// Flow is units of a lot that came to a place, or left it where Qty is below zero.
type Flow struct {
	At  inventory.Instant
	Qty int
}

// EarliestOut returns the first instant at which so many units may have left a place without its balance falling below
// zero then or later; ok is false where it does not hold them. flows are in the order of recording: of what happened
// at one instant, what was recorded first came first, and what leaves now comes last.
func EarliestOut(flows []Flow, qty int) (earliest inventory.Instant, ok bool) {
	flows = slices.Clone(flows)
	slices.SortStableFunc(flows, func(a, b Flow) int { return cmp.Compare(a.At, b.At) })
	left := 0
	for _, f := range flows {
		left += f.Qty
	}
	for i := len(flows) - 1; i >= 0 && left >= qty; i-- {
		if i == len(flows)-1 || flows[i+1].At != flows[i].At {
			earliest, ok = flows[i].At, true
		}
		left -= flows[i].Qty
	}
	return earliest, ok
}

// ErrNotThereYet refuses what would have left a place before it came there.
var ErrNotThereYet = inventory.Refuse(inventory.Conflict, "these units were not there yet: enter a later time")

// InTime brings the time of units leaving a place into the order of things: what lies up to five minutes before they
// can have left, as a slow clock has it, becomes that instant; so does any other where a person decides a report.
// Refuses: Conflict.
func InTime(at, earliest inventory.Instant, decided bool) (inventory.Instant, error) {
	if at < earliest && !decided && earliest > at.Add(inventory.ClockSkew) {
		return at, ErrNotThereYet
	}
	return max(at, earliest), nil
}
