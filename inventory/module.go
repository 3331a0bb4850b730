package inventory

import (
	"cmp"
	"slices"

	"stowkeeper/inventory/message"
)

// ModuleState is a module in a bag: a bag of its own, with its own list, seal
// and label, that the checklist of the outer bag shows as one line.
type ModuleState struct {
	Bag       string          `json:"bag" doc:"Bag code of the module"`
	Name      string          `json:"name"`
	KitList   string          `json:"kit_list"`
	Seal      string          `json:"seal,omitempty" doc:"Number of the seal that should be on it"`
	SealState SealState       `json:"seal_state,omitempty" enum:"intact,broken,different"`
	State     State           `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline  message.Message `json:"headline" doc:"What is true of it in a few words"`
	Wanted    bool            `json:"wanted" doc:"The outer bag's list needs it"`
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
	for _, m := range states {
		switch m.State {
		case NotReady, OutOfService:
			out = append(out, Finding{Kind: FindModule, Severity: SeverityStop, Module: m.Bag,
				Text: message.M("module {1}, {2}: {3}", m.Name, m.Bag, ReasonIn(m.Headline))})
		case ReadyWithGaps:
			out = append(out, Finding{Kind: FindModule, Severity: SeverityWarn, Module: m.Bag,
				Text: message.M("module {1}, {2}: {3}", m.Name, m.Bag, m.Headline)})
		}
		if !m.Wanted {
			out = append(out, Finding{Kind: FindNotOnList, Severity: SeverityWarn, Module: m.Bag, Qty: 1,
				Text: message.M("module {1}, {2}: not on the list", m.Name, m.Bag)})
		}
	}
	for _, m := range missingModules(v) {
		out = append(out, Finding{Kind: FindModuleMissing, Severity: SeverityStop, Qty: m.missing,
			Text: message.M("modules on list {1}: {2} of {3}", m.KitList, m.Count-m.missing, m.Count)})
	}
	return out
}

// moduleGap is a kind of module of which a bag's list wants more than are there.
type moduleGap struct {
	Module
	missing int
}

func missingModules(v BagView) []moduleGap {
	if v.Bag.Retired() {
		return nil
	}
	there := map[string]int{}
	for _, m := range v.Modules {
		there[m.Bag.KitList]++
	}
	var out []moduleGap
	for _, m := range v.List.Modules {
		if n := m.Count - there[m.KitList]; n > 0 {
			out = append(out, moduleGap{m, n})
		}
	}
	return out
}

// MayGoIn refuses a module, judged, that does not fit into a bag or must not go out. wanted are the kit lists of
// which one may go in. Refuses: Conflict.
func MayGoIn(outer Bag, v BagView, judged Readiness, wanted []string) error {
	in := v.Bag
	switch {
	case in.Inside != "":
		return Refuse(Conflict, "module {1} is inside bag {2}", in.Code, in.Inside)
	case !slices.Contains(wanted, in.KitList):
		return Refuse(Conflict, "choose a module of the needed kit list")
	case in.Code == outer.Code || outer.Inside != "" || len(v.Modules) > 0:
		return Refuse(Conflict, "a module cannot hold modules")
	case in.AtStation != outer.AtStation || in.Station != outer.Station || in.Purpose != outer.Purpose:
		return Refuse(Conflict, "choose a module here, of this station and purpose")
	case judged.State == NotReady || judged.State == OutOfService:
		return Refuse(Conflict, "module {1}: {2}", in.Code, Headline(in, judged))
	}
	return nil
}

// judgedBag is a bag, and what was judged of it.
type judgedBag struct {
	*BagView
	Judged
}

// fillModules gives modules that stand ready, on no vehicle, to the bags that lack one: by bag priority, then code.
// Modules without gaps go first, then by code.
func fillModules(bags, spare []judgedBag) []Fill {
	byClaim := func(a, b judgedBag) int {
		return cmp.Or(cmp.Compare(a.Bag.Priority, b.Bag.Priority),
			cmp.Compare(a.Bag.Code, b.Bag.Code))
	}
	bags, spare = slices.SortedFunc(slices.Values(bags), byClaim), slices.SortedFunc(slices.Values(spare),
		func(a, b judgedBag) int {
			return cmp.Or(-CompareBool(a.State == Ready, b.State == Ready),
				cmp.Compare(a.Bag.Code, b.Bag.Code))
		})
	var out []Fill
	for _, b := range bags {
		for _, m := range b.Gaps {
			for i := 0; i < len(spare) && m.Count > 0; i++ {
				s := spare[i]
				stopped := s.State == NotReady || s.State == OutOfService
				if s.Bag.KitList != m.KitList || s.Bag.Vehicle != "" || s.Holds || stopped ||
					MayGoIn(b.Bag, *s.BagView, Readiness{}, []string{m.KitList}) != nil {
					continue
				}
				out = append(out, Fill{Bag: b.Bag.Code, Station: b.Bag.AtStation, KitList: m.KitList, From: s.Bag.Code,
					Qty: 1, Kind: FillRestock})
				spare = slices.Delete(spare, i, i+1)
				i, m.Count = i-1, m.Count-1
			}
		}
	}
	return out
}

// PutModules lists the modules of the same station that go into the bag of a pick list, and those that are not to be
// had, by the version of its kit list that a restock moves it to. bags are all of the station.
func (pl *PickList) PutModules(v BagView, bags []BagView, claims []Fill, now Instant) {
	judged := func(v *BagView) judgedBag {
		j, _ := Judge(*v, now, pl.AsOf, 0)
		return judgedBag{v, j}
	}
	v = v.OnNewest(pl.AsOf)
	gaps := missingModules(v)
	var spare []judgedBag
	for i, b := range bags {
		if slices.ContainsFunc(gaps, func(m moduleGap) bool { return m.KitList == b.Bag.KitList }) {
			spare = append(spare, judged(&bags[i]))
		}
	}
	for _, f := range fillModules([]judgedBag{judged(&v)}, spare) {
		p := ModulePick{Module: f.From, KitList: f.KitList}
		for _, c := range claims {
			if c.KitList != "" && c.From == f.From && c.Bag != pl.Bag {
				p.PriorClaim = c.Bag
			}
		}
		pl.Modules = append(pl.Modules, p)
		i := slices.IndexFunc(gaps, func(m moduleGap) bool { return m.KitList == f.KitList })
		gaps[i].missing--
	}
	for _, m := range gaps {
		if m.missing > 0 {
			pl.Unfilled = append(pl.Unfilled, Unfilled{KitList: m.KitList, Qty: m.missing})
		}
	}
}

// sooner returns the earlier of two changes, either of which may be none.
func sooner(a, b *Change) *Change {
	if a == nil || b != nil && b.Date < a.Date {
		return b
	}
	return a
}
