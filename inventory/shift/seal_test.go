package shift

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// sealed is a bag's record with seal 100 on it, set at instant 10.
func sealed(state inventory.SealState) inventory.BagRecord {
	return inventory.BagRecord{Seal: "100", SealState: state, SealSeenAt: 10}
}

// TestAfterSeal names what each report makes of each state of the seal.
func TestAfterSeal(t *testing.T) {
	opened := inventory.BagRecord{SealState: inventory.SealNone, SealSeenAt: 10}
	fullCheck := ReportedSeal{At: 20, Opens: true, clears: true}
	with := func(r ReportedSeal, change func(*ReportedSeal)) ReportedSeal { change(&r); return r }
	for _, c := range []struct {
		name   string
		before inventory.BagRecord
		report ReportedSeal
		want   inventory.BagRecord
		log    []inventory.SealEvent
	}{
		{"seal check, in order", sealed(inventory.SealIntact), ReportedSeal{At: 20, seen: "100"},
			inventory.BagRecord{Seal: "100", SealState: inventory.SealIntact, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealSeen}},
		{"seal check, an older one recorded late", sealed(inventory.SealIntact), ReportedSeal{At: 5, seen: "100"},
			sealed(inventory.SealIntact), []inventory.SealEvent{inventory.SealSeen}},
		{"seal check, case and blanks apart", inventory.BagRecord{Seal: "ab 12", SealState: inventory.SealIntact,
			SealSeenAt: 10}, ReportedSeal{At: 20, seen: " AB1 2"}, inventory.BagRecord{Seal: "ab 12",
			SealState: inventory.SealIntact, SealSeenAt: 20}, []inventory.SealEvent{inventory.SealSeen}},
		{"seal check, another number", sealed(inventory.SealIntact), ReportedSeal{At: 20, seen: "101"},
			sealed(inventory.SealDifferent), []inventory.SealEvent{inventory.SealSeenOther}},
		{"seal check, broken", sealed(inventory.SealIntact), ReportedSeal{At: 20, broken: true}, sealed(inventory.SealBroken),
			[]inventory.SealEvent{inventory.SealSeenBroken}},
		{"seal check, broken, with the number read off", sealed(inventory.SealIntact), ReportedSeal{At: 20, broken: true,
			seen: "100"}, sealed(inventory.SealBroken), []inventory.SealEvent{inventory.SealSeenBroken}},
		{"a matching number does not mend what was seen broken", sealed(inventory.SealBroken), ReportedSeal{At: 20,
			seen: "100"}, inventory.BagRecord{Seal: "100", SealState: inventory.SealBroken, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealSeen}},
		{"nor what was seen different", sealed(inventory.SealDifferent), ReportedSeal{At: 20, seen: "100"},
			inventory.BagRecord{Seal: "100", SealState: inventory.SealDifferent, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealSeen}},
		{"a number where none was expected is noted, and no more", opened, ReportedSeal{At: 20, seen: "55"}, opened,
			[]inventory.SealEvent{inventory.SealSeenOther}},

		{"full check opens", sealed(inventory.SealIntact), fullCheck, opened, []inventory.SealEvent{inventory.SealOpened}},
		{"full check settles a broken seal", sealed(inventory.SealBroken), fullCheck, opened,
			[]inventory.SealEvent{inventory.SealOpened}},
		{"full check that itself sees it broken settles it", sealed(inventory.SealIntact), with(fullCheck,
			func(r *ReportedSeal) { r.broken = true }), opened, []inventory.SealEvent{inventory.SealSeenBroken,
			inventory.SealOpened}},
		{"full check with another number settles it", sealed(inventory.SealIntact), with(fullCheck,
			func(r *ReportedSeal) { r.seen = "7" }), opened, []inventory.SealEvent{inventory.SealSeenOther,
			inventory.SealOpened}},
		{"full check, resealed", sealed(inventory.SealBroken), with(fullCheck, func(r *ReportedSeal) { r.Set = "101" }),
			inventory.BagRecord{Seal: "101", SealState: inventory.SealIntact, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealOpened, inventory.SealWasSet}},
		{"full check of a bag without a seal, sealed", opened, with(fullCheck, func(r *ReportedSeal) { r.Set = "101" }),
			inventory.BagRecord{Seal: "101", SealState: inventory.SealIntact, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealWasSet}},

		{"restock opens", sealed(inventory.SealIntact), ReportedSeal{At: 20, Opens: true}, opened,
			[]inventory.SealEvent{inventory.SealOpened}},
		{"restock, resealed", sealed(inventory.SealIntact), ReportedSeal{At: 20, Opens: true, Set: "101"},
			inventory.BagRecord{Seal: "101", SealState: inventory.SealIntact, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealOpened, inventory.SealWasSet}},
		{"a restock does not settle a broken seal: nobody counted", sealed(inventory.SealBroken), ReportedSeal{At: 20,
			Opens: true, Set: "101"}, inventory.BagRecord{Seal: "101", SealState: inventory.SealBroken, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealOpened, inventory.SealWasSet}},
		{"first seal of a new bag", inventory.BagRecord{}, ReportedSeal{At: 20, Opens: true, Set: "101"},
			inventory.BagRecord{Seal: "101", SealState: inventory.SealIntact, SealSeenAt: 20},
			[]inventory.SealEvent{inventory.SealWasSet}},
		{"nothing said", sealed(inventory.SealIntact), ReportedSeal{At: 20}, sealed(inventory.SealIntact), nil},
	} {
		got, log := afterSeal(c.before, c.report)
		assert.Equal(t, c.want, got, c.name)
		var events []inventory.SealEvent
		for _, e := range log {
			events = append(events, e.Event)
			assert.Equal(t, c.report.At, e.HappenedAt, c.name)
		}
		assert.Equal(t, c.log, events, c.name)
	}
}

// TestAfterSealLogsNumbers: an entry keeps the number seen and the one that
// should have been there.
func TestAfterSealLogsNumbers(t *testing.T) {
	_, log := afterSeal(sealed(inventory.SealIntact), ReportedSeal{At: 20, seen: "101", Opens: true, clears: true,
		Set: "102"})
	assert.Equal(t, []inventory.SealEntry{
		{HappenedAt: 20, Event: inventory.SealSeenOther, Number: "101", Expected: "100"},
		{HappenedAt: 20, Event: inventory.SealOpened, Number: "100", Expected: "100"},
		{HappenedAt: 20, Event: inventory.SealWasSet, Number: "102"},
	}, log)
}
