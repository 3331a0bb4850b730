package inventory

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A record of a bag that changed since is in order where its maker changed it,
// earlier, and it does not depend on the change.
func TestFollowsOn(t *testing.T) {
	t.Parallel()
	cleo, at := Actor{Name: "Cleo", Role: Crew}, Instant(1000)
	used, sealed := BagEvent{By: "Cleo", HappenedAt: 900, Moved: true, Incident: "I-1"}, BagEvent{By: "Cleo",
		HappenedAt: 900}
	listed, others := BagEvent{}, BagEvent{By: "Quinn", HappenedAt: 900, Moved: true}
	later := BagEvent{By: "Cleo", HappenedAt: 1001, Moved: true}
	bag := Bag{BagRecord: BagRecord{Seal: "10 1"}}
	use := func(incident string) func(by Actor, since []BagEvent) bool {
		return Use{Incident: incident, HappenedAt: at}.UnaffectedBy
	}
	check := func(c Check, b Bag) func(by Actor, since []BagEvent) bool {
		c.HappenedAt = at
		return func(by Actor, since []BagEvent) bool { return c.UnaffectedBy(b, by, since) }
	}
	program := cleo
	program.Program = true
	for what, x := range map[string]struct {
		record func(Actor, []BagEvent) bool
		by     Actor
		since  []BagEvent
		want   bool
	}{
		"a use after one's own use": {use("I-2"), cleo, []BagEvent{used, sealed}, true},
		"a use at the same moment": {use("I-2"), cleo, []BagEvent{{By: "Cleo", HappenedAt: at, Moved: true}},
			true},
		"a use after one at the same incident":     {use("I-1"), cleo, []BagEvent{used}, false},
		"a use before one's own later doing":       {use("I-2"), cleo, []BagEvent{used, later}, false},
		"a use after somebody else's doing":        {use("I-2"), cleo, []BagEvent{used, others}, false},
		"a use after a change of the list":         {use("I-2"), cleo, []BagEvent{used, listed}, false},
		"a use of which nobody knows what changed": {use("I-2"), cleo, nil, false},
		"a use by a program":                       {use("I-2"), program, []BagEvent{used}, false},
		"a seal that is on": {check(Check{Kind: SealCheck, SealSeen: "101"}, bag), cleo,
			[]BagEvent{used, sealed}, true},
		"a seal that was on before": {check(Check{Kind: SealCheck, SealSeen: "100"}, bag), cleo,
			[]BagEvent{used, sealed}, false},
		"a seal that broke": {check(Check{Kind: SealCheck, SealBroken: true}, bag), cleo,
			[]BagEvent{used, sealed}, true},
		"a seal of a bag that has none": {check(Check{Kind: SealCheck, SealBroken: true}, Bag{}), cleo,
			[]BagEvent{used}, false},
		"a seal after somebody else's doing": {check(Check{Kind: SealCheck, SealSeen: "101"}, bag), cleo,
			[]BagEvent{sealed, others}, false},
		"a count after a new seal": {check(Check{Kind: FullCheck}, bag), cleo, []BagEvent{sealed}, true},
		"a count after one's own use": {check(Check{Kind: FullCheck}, bag), cleo, []BagEvent{used, sealed},
			false},
	} {
		assert.Equal(t, x.want, x.record(x.by, x.since), what)
	}
}
