package inventory

import (
	"strconv"
	"strings"
)

// ModuleState is a module in a bag: a bag of its own, with its own list, seal
// and label, that the checklist of the outer bag shows as one line.
type ModuleState struct {
	Bag       string    `json:"bag" doc:"Bag code of the module"`
	Name      string    `json:"name"`
	KitList   string    `json:"kit_list"`
	Seal      string    `json:"seal,omitempty" doc:"Number of the seal that should be on it"`
	SealState SealState `json:"seal_state,omitempty" enum:"intact,broken,different"`
	State     State     `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline  string    `json:"headline" doc:"What is true of it in a few words"`
	Wanted    bool      `json:"wanted" doc:"The list of the outer bag asks for it"`
}

// judgeModules judges the modules in a bag, in the order of their codes.
func judgeModules(v BagView, now Instant, asOf Day, horizon int) []Readiness {
	out := make([]Readiness, len(v.Modules))
	for i, m := range v.Modules {
		out[i] = ReadinessOf(m, now, asOf, horizon)
	}
	return out
}

// moduleStates lines the modules in a bag up for its checklist. Those that the
// list asks for come first come first served.
func moduleStates(v BagView, inside []Readiness) []ModuleState {
	wanted := map[string]int{}
	for _, m := range v.List.Modules {
		wanted[m.KitList] = m.Count
	}
	var out []ModuleState
	for i, m := range v.Modules {
		b := m.Bag
		out = append(out, ModuleState{Bag: b.Code, Name: b.Name, KitList: b.KitList, Seal: b.Seal, SealState: b.SealState,
			State: inside[i].State, Headline: Headline(b, inside[i]), Wanted: wanted[b.KitList] > 0})
		wanted[b.KitList]--
	}
	return out
}

// moduleFindings judges a bag by its modules: it is no better than the worst of
// them, and one that its list asks for and that is not there stops it.
func moduleFindings(v BagView, states []ModuleState) []Finding {
	var out []Finding
	there := map[string]int{}
	for _, m := range states {
		there[m.KitList]++
		text := "module " + m.Name + ", " + m.Bag + ": "
		switch m.State {
		case NotReady, OutOfService:
			out = append(out, Finding{Kind: FindModule, Severity: SeverityStop, Module: m.Bag,
				Text: text + strings.TrimPrefix(m.Headline, mustNotGo)})
		case ReadyWithGaps:
			out = append(out, Finding{Kind: FindModule, Severity: SeverityWarn, Module: m.Bag, Text: text + m.Headline})
		}
		if !m.Wanted {
			out = append(out, Finding{Kind: FindNotOnList, Severity: SeverityWarn, Module: m.Bag, Qty: 1,
				Text: text + "not on the list"})
		}
	}
	for _, m := range v.List.Modules {
		if n := m.Count - there[m.KitList]; n > 0 {
			out = append(out, Finding{Kind: FindModuleMissing, Severity: SeverityStop, Qty: n,
				Text: "modules on list " + m.KitList + ": " + strconv.Itoa(there[m.KitList]) + " of " + strconv.Itoa(m.Count)})
		}
	}
	return out
}

// sooner returns the earlier of two changes, either of which may be none.
func sooner(a, b *Change) *Change {
	if a == nil || b != nil && b.Date < a.Date {
		return b
	}
	return a
}
