package storeroom

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// What a quartermaster does next about a bag, and why it is on the desk; what only crews or time see to is not.
func TestNextStep(t *testing.T) {
	const stop, warn = inventory.SeverityStop, inventory.SeverityWarn
	type f = inventory.Finding
	low, past := f{Kind: inventory.FindBelowMinimum, Severity: stop}, f{Kind: inventory.FindPastEnd, Severity: warn}
	recall := f{Kind: inventory.FindUnderNotice, Severity: stop, LotID: 7}
	review := f{Kind: inventory.FindUnderReview, Severity: warn, Report: "use 3"}
	soon, late := f{Kind: inventory.FindEndsSoon, Severity: warn}, f{Kind: inventory.FindSealCheckDue, Severity: warn}
	of := func(k inventory.FindingKind, s inventory.Severity) f { return f{Kind: k, Severity: s} }
	for _, c := range []struct {
		name       string
		off        bool
		found      []f
		lacks, has int
		want       Step // empty: not on the desk
		why        inventory.FindingKind
		more       int
	}{
		{"nothing found", false, nil, 0, 0, "", "", 0},
		{"only what ends soon", false, []f{soon}, 0, 0, "", "", 0},
		{"only a check that crews owe", false, []f{late}, 0, 0, "", "", 0},
		{"a module with gaps has its own line", false, []f{of(inventory.FindModule, warn)}, 0, 0, "", "", 0},
		{"a module that stops the bag", false, []f{of(inventory.FindModule, stop)}, 0, 0, StepModule,
			inventory.FindModule, 0},
		{"short, in the store", false, []f{low, soon, late}, 3, 1, StepRestock, inventory.FindBelowMinimum, 0},
		{"short, nowhere in the store", false, []f{low}, 3, 0, StepFind, inventory.FindBelowMinimum, 0},
		{"short and nowhere, and something to take out", false, []f{low, past}, 3, 0, StepRestock,
			inventory.FindBelowMinimum, 1},
		{"short and nowhere, and no seal", false, []f{low, of(inventory.FindNoSeal, warn)}, 3, 0, StepFind,
			inventory.FindBelowMinimum, 1},
		{"nothing missing, something to take out", false, []f{past}, 0, 0, StepRestock, inventory.FindPastEnd, 0},
		{"recalled, replaced from the store", false, []f{low, recall}, 3, 3, StepRestock, inventory.FindBelowMinimum, 1},
		{"recalled, and nothing replaces it", false, []f{low, recall, past}, 3, 0, StepPull, inventory.FindBelowMinimum, 2},
		{"recalled alone, no other", false, []f{recall}, 1, 0, StepPull, inventory.FindUnderNotice, 0},
		{"a report to review comes first", false, []f{low, recall, review}, 3, 3, StepReview, inventory.FindBelowMinimum, 2},
		{"out of service, with gaps", true, []f{low}, 3, 3, StepReturn, inventory.FindBelowMinimum, 0},
		{"out of service, nothing else", true, nil, 0, 0, StepReturn, "", 0},
		{"out of service and a report to review", true, []f{review}, 0, 0, StepReview, inventory.FindUnderReview, 0},
		{"something seen", false, []f{of(inventory.FindObservation, stop), low}, 1, 1, StepClose,
			inventory.FindObservation, 1},
		{"a broken seal", false, []f{of(inventory.FindSeal, stop)}, 0, 0, StepCheck, inventory.FindSeal, 0},
		{"a register", false, []f{of(inventory.FindRegister, stop)}, 0, 0, StepBalance, inventory.FindRegister, 0},
		{"a device to inspect", false, []f{of(inventory.FindInspectionDue, warn), soon}, 0, 0, StepInspect,
			inventory.FindInspectionDue, 0},
	} {
		r := inventory.Readiness{State: inventory.ReadyWithGaps, Findings: c.found}
		if c.off {
			r.State = inventory.OutOfService
		}
		b, on := deskBag(r, c.lacks, c.has)
		assert.Equal(t, c.want != "", on, c.name)
		assert.Equal(t, []any{c.want, c.why, c.more}, []any{b.Next, b.Why.Kind, b.More}, c.name)
	}
	b, _ := deskBag(inventory.Readiness{Findings: []f{low, review}}, 1, 1)
	assert.Equal(t, "use 3", b.About.Report, "the step is about the report")
	b, _ = deskBag(inventory.Readiness{Findings: []f{low, recall}}, 1, 0)
	assert.EqualValues(t, 7, b.About.LotID, "the step is about what is recalled")
}

// Not ready first, then out of service; by priority; a critical item missing, then what stops sooner; by code.
func TestOrderOfTheDesk(t *testing.T) {
	bag := func(code string, state inventory.State, priority int, critical bool, on inventory.Day) DeskBag {
		return DeskBag{BagSummary: inventory.BagSummary{Bag: inventory.Bag{Code: code, Priority: priority}, State: state},
			critical: critical, stopsOn: on}
	}
	want := []DeskBag{
		bag("J", inventory.NotReady, 1, false, 0), bag("C", inventory.NotReady, 2, true, 0),
		bag("A", inventory.NotReady, 2, false, 0), bag("B", inventory.NotReady, 2, false, 0),
		bag("A1", inventory.OutOfService, 1, false, 0), bag("Z", inventory.ReadyWithGaps, 1, false, 20),
		bag("Y", inventory.ReadyWithGaps, 1, false, 21), bag("X", inventory.ReadyWithGaps, 1, false, 0),
		bag("A2", inventory.ReadyWithGaps, 2, false, 1),
	}
	got := slices.Clone(want)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
	slices.SortFunc(got, byUrgency)
	assert.Equal(t, want, got)
}
