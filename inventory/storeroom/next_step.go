package storeroom

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
)

// Step is what a quartermaster does next about a bag.
type Step string

// The steps. Each is about one finding, which says which report, lot or module it means.
const (
	StepReview  Step = "review"      // decide a crew's report, without which a restock is refused
	StepReturn  Step = "return"      // return the bag to service
	StepClose   Step = "observation" // close what was seen
	StepCheck   Step = "full_check"
	StepBalance Step = "balance"
	StepModule  Step = "module" // see to a module in it
	StepInspect Step = "inspect"
	StepPull    Step = "pull"    // take out what is recalled, where nothing replaces it
	StepRestock Step = "restock" // from the station's own store
	StepFind    Step = "find"    // the store has none of it: transfer it, or buy it
)

// DeskBag is a bag to act on.
type DeskBag struct {
	inventory.BagSummary
	Why   inventory.Finding // what weighs most; none where only a person stopped it
	More  int               // how many other findings there are
	Lacks int               // units missing to par
	Has   int               // how many of them the station's store has for it
	Next  Step
	About inventory.Finding // what the step is about

	critical bool          // a critical line is below its minimum
	stopsOn  inventory.Day // the day on which it will not be ready if nobody acts, 0 for none
}

// passing are findings that bring no bag to the desk by themselves: crews do the checks, dates to come are the year
// ahead's, a module has a line of its own, and signatures a number.
var passing = []inventory.FindingKind{inventory.FindEndsSoon, inventory.FindSealCheckDue, inventory.FindFullCheckDue,
	inventory.FindListSuperseded, inventory.FindModule, inventory.FindSignatureOwed}

// toTakeOut are findings for which a restock takes something out, whatever there is to put in.
var toTakeOut = []inventory.FindingKind{inventory.FindPastEnd, inventory.FindNotOnList, inventory.FindSurplus}

// bySteps are the findings that something else than a restock ends.
var bySteps = map[inventory.FindingKind]Step{inventory.FindObservation: StepClose, inventory.FindSeal: StepCheck,
	inventory.FindRegister: StepBalance, inventory.FindModule: StepModule, inventory.FindInspectionDue: StepInspect}

// deskBag says why a bag is on the desk and what is done next; false where it needs nobody who keeps the store. lacks
// is how many units it misses to par, has how many of them its station's store has for it.
func deskBag(r inventory.Readiness, lacks, has int) (DeskBag, bool) {
	b := DeskBag{Lacks: lacks, Has: has}
	for _, f := range r.Findings {
		if f.Severity != inventory.SeverityStop && slices.Contains(passing, f.Kind) {
			continue
		}
		if b.Why.Kind == "" {
			b.Why = f
		} else {
			b.More++
		}
	}
	if b.Why.Kind == "" && r.State != inventory.OutOfService {
		return b, false
	}
	b.critical = slices.ContainsFunc(r.Lines, func(l inventory.LineState) bool {
		return l.Critical && l.Usable < l.Minimum
	})
	if r.FirstStop != nil {
		b.stopsOn = r.FirstStop.Date
	}
	b.Next, b.About = nextStep(r, b.Why, lacks > 0 && has == 0)
	return b, true
}

// nextStep is the first that fits: a report to review, then whether a person stopped it, then what weighs most.
func nextStep(r inventory.Readiness, why inventory.Finding, nothing bool) (Step, inventory.Finding) {
	for _, f := range r.Findings {
		if f.Kind == inventory.FindUnderReview {
			return StepReview, f
		}
	}
	step, other := bySteps[why.Kind]
	switch {
	case r.State == inventory.OutOfService:
		return StepReturn, why
	case other:
		return step, why
	case !nothing:
		return StepRestock, why
	case why.Kind == inventory.FindUnderNotice:
		return StepPull, why
	}
	for _, f := range r.Findings {
		if f.Kind == inventory.FindUnderNotice {
			return StepPull, f
		}
		if slices.Contains(toTakeOut, f.Kind) {
			return StepRestock, why
		}
	}
	return StepFind, why
}

// urgency orders states on the desk, what nobody can use first.
var urgency = map[inventory.State]int{inventory.NotReady: 0, inventory.OutOfService: 1, inventory.ReadyWithGaps: 2}

// byUrgency orders bags: not ready, out of service, with gaps; by priority; those that lack a critical item first, then
// those that stop soonest; by code.
func byUrgency(a, b DeskBag) int {
	return cmp.Or(cmp.Compare(urgency[a.State], urgency[b.State]), cmp.Compare(a.Priority, b.Priority),
		-inventory.CompareBool(a.critical, b.critical), inventory.CompareEnd(a.stopsOn, b.stopsOn),
		cmp.Compare(a.Code, b.Code))
}
