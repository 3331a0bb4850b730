package inventory

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// sealed is a bag's record with seal 100 on it, set at instant 10.
func sealed(state SealState) BagRecord {
	return BagRecord{Seal: "100", SealState: state, SealSeenAt: 10}
}

// TestAfterSeal names what each report makes of each state of the seal.
func TestAfterSeal(t *testing.T) {
	opened := BagRecord{SealState: SealNone, SealSeenAt: 10}
	fullCheck := sealReport{at: 20, opens: true, clears: true}
	with := func(r sealReport, change func(*sealReport)) sealReport { change(&r); return r }
	for _, c := range []struct {
		name   string
		before BagRecord
		report sealReport
		want   BagRecord
		log    []SealEvent
	}{
		{"seal check, in order", sealed(SealIntact), sealReport{at: 20, seen: "100"}, BagRecord{Seal: "100", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealSeen}},
		{"seal check, an older one recorded late", sealed(SealIntact), sealReport{at: 5, seen: "100"}, sealed(SealIntact), []SealEvent{SealSeen}},
		{"seal check, case and blanks apart", BagRecord{Seal: "ab 12", SealState: SealIntact, SealSeenAt: 10}, sealReport{at: 20, seen: " AB1 2"}, BagRecord{Seal: "ab 12", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealSeen}},
		{"seal check, another number", sealed(SealIntact), sealReport{at: 20, seen: "101"}, sealed(SealDifferent), []SealEvent{SealSeenOther}},
		{"seal check, broken", sealed(SealIntact), sealReport{at: 20, broken: true}, sealed(SealBroken), []SealEvent{SealSeenBroken}},
		{"seal check, broken, with the number read off", sealed(SealIntact), sealReport{at: 20, broken: true, seen: "100"}, sealed(SealBroken), []SealEvent{SealSeenBroken}},
		{"a matching number does not mend what was seen broken", sealed(SealBroken), sealReport{at: 20, seen: "100"}, BagRecord{Seal: "100", SealState: SealBroken, SealSeenAt: 20}, []SealEvent{SealSeen}},
		{"nor what was seen different", sealed(SealDifferent), sealReport{at: 20, seen: "100"}, BagRecord{Seal: "100", SealState: SealDifferent, SealSeenAt: 20}, []SealEvent{SealSeen}},
		{"a number where none was expected is noted, and no more", opened, sealReport{at: 20, seen: "55"}, opened, []SealEvent{SealSeenOther}},

		{"full check opens", sealed(SealIntact), fullCheck, opened, []SealEvent{SealOpened}},
		{"full check settles a broken seal", sealed(SealBroken), fullCheck, opened, []SealEvent{SealOpened}},
		{"full check that itself sees it broken settles it", sealed(SealIntact), with(fullCheck, func(r *sealReport) { r.broken = true }), opened, []SealEvent{SealSeenBroken, SealOpened}},
		{"full check with another number settles it", sealed(SealIntact), with(fullCheck, func(r *sealReport) { r.seen = "7" }), opened, []SealEvent{SealSeenOther, SealOpened}},
		{"full check, resealed", sealed(SealBroken), with(fullCheck, func(r *sealReport) { r.set = "101" }), BagRecord{Seal: "101", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealOpened, SealWasSet}},
		{"full check of a bag without a seal, sealed", opened, with(fullCheck, func(r *sealReport) { r.set = "101" }), BagRecord{Seal: "101", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealWasSet}},

		{"restock opens", sealed(SealIntact), sealReport{at: 20, opens: true}, opened, []SealEvent{SealOpened}},
		{"restock, resealed", sealed(SealIntact), sealReport{at: 20, opens: true, set: "101"}, BagRecord{Seal: "101", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealOpened, SealWasSet}},
		{"a restock does not settle a broken seal: nobody counted", sealed(SealBroken), sealReport{at: 20, opens: true, set: "101"}, BagRecord{Seal: "101", SealState: SealBroken, SealSeenAt: 20}, []SealEvent{SealOpened, SealWasSet}},
		{"first seal of a new bag", BagRecord{}, sealReport{at: 20, opens: true, set: "101"}, BagRecord{Seal: "101", SealState: SealIntact, SealSeenAt: 20}, []SealEvent{SealWasSet}},
		{"nothing said", sealed(SealIntact), sealReport{at: 20}, sealed(SealIntact), nil},
	} {
		got, log := afterSeal(c.before, c.report)
		assert.Equal(t, c.want, got, c.name)
		var events []SealEvent
		for _, e := range log {
			events = append(events, e.Event)
			assert.Equal(t, c.report.at, e.At, c.name)
		}
		assert.Equal(t, c.log, events, c.name)
	}
}

// TestAfterSealLogsNumbers: an entry keeps the number seen and the one that
// should have been there.
func TestAfterSealLogsNumbers(t *testing.T) {
	_, log := afterSeal(sealed(SealIntact), sealReport{at: 20, seen: "101", opens: true, clears: true, set: "102"})
	assert.Equal(t, []SealEntry{
		{At: 20, Event: SealSeenOther, Number: "101", Expected: "100"},
		{At: 20, Event: SealOpened, Number: "100", Expected: "100"},
		{At: 20, Event: SealWasSet, Number: "102"},
	}, log)
}
