package inventory

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory/message"
)

// BagView is all that the rules need to know of one bag.
type BagView struct {
	Bag          Bag
	Station      Station // where the bag is
	List         KitList
	Versions     []KitList       // newer ones of the list, whether in force or not, and perhaps older ones
	Items        map[string]Item // every item that the list names or the bag holds
	Stock        []Stock         // what lies in the bag
	Observations []Observation   // the open ones
	Modules      []BagView       // the bags inside it
	SealTwins    []string        // other bags here with the same seal number
	Miscounts    []BalanceCheck  // the newest balance checks in it that differ
	Owed         []OwedEntry     // entries about what it held that lack a signature
	Reports      []UnderReview   // what reports under review say of it
}

// DefaultHorizonDays is how far ahead a reading looks when nobody says.
const DefaultHorizonDays = 30

// ReadinessOf judges a bag. now gives today at the bag's station; asOf is the day asked about, 0 for today; horizon
// is in days. What is in the bag now is judged on that day.
func ReadinessOf(v BagView, now Instant, asOf Day, horizon int) Readiness {
	today := v.Station.Today(now)
	if asOf == 0 {
		asOf = today
	}
	if v.Bag.Retired() {
		return retired(v, asOf, horizon)
	}
	s := newContents(v, asOf)
	a := s.allocate(asOf)
	r := Readiness{Bag: v.Bag.Code, AsOf: asOf, HorizonDays: horizon, ClockLeft: asOf != today, Findings: []Finding{}}
	r.Findings = append(r.Findings, s.dayFindings(a, asOf, horizon)...)
	r.Findings = append(r.Findings, s.reportFindings(a, asOf)...)
	inside := judgeModules(v, now, asOf, horizon)
	r.Modules = moduleStates(v, inside)
	r.Findings = append(r.Findings, moduleFindings(v, r.Modules)...)
	r.Findings = append(r.Findings, sealFindings(v)...)
	r.Findings = append(r.Findings, s.registerFindings()...)
	if !r.ClockLeft {
		r.Findings = append(r.Findings, overdueFindings(v, now, today)...)
	}
	slices.SortStableFunc(r.Findings, func(a, b Finding) int {
		return severityRank(b.Severity) - severityRank(
			a.Severity)
	})
	r.State = StateOf(v.Bag, r.Findings)
	r.Lines, r.Surplus, r.NotOnList = s.layOut(a, asOf)
	r.NextChange, r.FirstStop = s.lookAhead(r, inside, asOf, horizon)
	return r
}

func severityRank(s Severity) int {
	if s == SeverityStop {
		return 1
	}
	return 0
}

// StateOf sums findings up to a state.
func StateOf(b Bag, findings []Finding) State {
	if b.OutOfService != nil {
		return OutOfService
	}
	state := Ready
	for _, f := range findings {
		if f.Severity == SeverityStop {
			return NotReady
		}
		state = ReadyWithGaps
	}
	return state
}

// dayFindings lists the findings that follow from contents and dates alone.
func (s *contents) dayFindings(a allocation, day Day, horizon int) []Finding {
	var out []Finding
	out = append(out, s.lineFindings(a)...)
	out = append(out, s.lotFindings(a, day, horizon)...)
	out = append(out, s.ruleFindings(day)...)
	if end := s.view.List.ValidTo; end != 0 && day > end {
		out = append(out, Finding{Kind: FindListEnded, Severity: SeverityWarn, Date: end,
			Text: message.M("this edition of the kit list ended on {1}", end)})
	}
	return append(append(out, s.superseded(day)...), observationFindings(s.view)...)
}

func observationFindings(v BagView) (out []Finding) {
	for _, o := range v.Observations {
		if o.Kind == SawTrainingMark || o.Kind == SawFailedPoint {
			out = append(out, Finding{Kind: FindObservation, Severity: SeverityStop, Item: o.Item, LotID: o.LotID, Text: o.Text})
		}
	}
	return out
}

// lineFindings compares each line with what counts for it.
func (s *contents) lineFindings(a allocation) []Finding {
	var out []Finding
	for i, l := range s.view.List.Lines {
		par, minimum := l.Wanted()
		got := a.usableOn(i)
		f := Finding{Item: l.Item, Qty: par - got, Kind: FindBelowPar, Severity: SeverityWarn}
		switch {
		case got >= par:
			continue
		case got >= minimum && l.Pouch == "":
			f.Text = message.M("{1}: {2} of {3}", s.name(l.Item), got, par)
		case got >= minimum:
			f.Text = message.M("{1}: {2} of {3} in {4}", s.name(l.Item), got, par, l.Pouch)
		case l.Pouch == "":
			f.Text = message.M("{1}: {2} of {3}, at least {4} required", s.name(l.Item), got, par, minimum)
		default:
			f.Text = message.M("{1}: {2} of {3} in {4}, at least {5} required", s.name(l.Item), got, par, l.Pouch, minimum)
		}
		if got < minimum {
			f.Kind, f.Severity = FindBelowMinimum, SeverityStop
		}
		out = append(out, f)
	}
	return out
}

// lotFindings looks at each lot in the bag.
func (s *contents) lotFindings(a allocation, day Day, horizon int) []Finding {
	var out []Finding
	listed := s.listed()
	for i, st := range s.view.Stock {
		l := st.Lot
		f := Finding{Severity: SeverityWarn, Item: l.Item, LotID: l.ID, Qty: st.Qty}
		units := UnitsOf(st.Qty, s.name(l.Item), l)
		add := func(k FindingKind, date Day, text message.Message) {
			f.Kind, f.Date, f.Text = k, date, text
			out = append(out, f)
		}
		if len(l.Withdrawn) > 0 {
			f.Severity = SeverityStop
			add(FindUnderNotice, 0, message.M("{1}: under notice {2}", units, l.Withdrawn[0]))
			f.Severity = SeverityWarn
		}
		through := s.through[i]
		f.Rule = string(s.rule(i, day))
		switch {
		case through == 0:
		case day > through:
			add(FindPastEnd, through, message.M("{1}: expired (use by {2})", units, through))
		case through <= day.AddDays(horizon):
			add(FindEndsSoon, through, message.M("{1}: use by {2}", units, through))
		}
		f.Rule = ""
		if InspectionOverdue(s.view.Items[l.Item], l, day) {
			due, _ := InspectionDue(s.view.Items[l.Item], l)
			add(FindInspectionDue, due, message.M("{1}: inspection due since {2}", units, due))
		}
		if WornOut(s.view.Items[l.Item], l) {
			add(FindWornOut, 0, message.M("{1}: worn out, {2} {2|application|applications} in training", units, l.Cycles))
		}
		switch {
		case !listed[l.Item]:
			add(FindNotOnList, 0, message.M("{1}: not on the list", units))
		case a.left[i] > 0:
			f.Qty = a.left[i]
			f.Kind, f.Date = FindSurplus, 0
			f.Text = message.M("{1}: more than needed", UnitsOf(f.Qty, s.name(l.Item), l))
			out = append(out, f)
		}
	}
	return out
}

func (s *contents) rule(row int, day Day) EndRule {
	l := s.view.Stock[row].Lot
	return governingRule(s.view.Items[l.Item], l, day)
}

// listed tells which items the list asks for or accepts.
func (s *contents) listed() map[string]bool {
	listed := map[string]bool{}
	for _, l := range s.view.List.Lines {
		listed[l.Item] = true
		for _, c := range l.Accepts {
			listed[c] = true
		}
	}
	return listed
}

// ruleFindings judges the kit rules on what is usable in the bag and in its
// modules. An item that the list says is carried elsewhere counts as held.
func (s *contents) ruleFindings(day Day) []Finding {
	if len(s.view.List.Rules) == 0 {
		return nil
	}
	var out []Finding
	byItem, byCategory := s.held(day)
	for _, r := range s.view.List.Rules {
		if r.WhenCategory != "" && byCategory[r.WhenCategory] == 0 {
			continue
		}
		need, have := r.NeedCategory.Text(), byCategory[r.NeedCategory]
		if r.NeedItem != "" {
			need, have = message.Plain(s.name(r.NeedItem)), byItem[r.NeedItem]
		}
		if have >= r.AtLeast {
			continue
		}
		out = append(out, Finding{Kind: FindKitRule, Severity: r.Severity, Item: r.NeedItem, category: r.NeedCategory,
			Qty:  r.AtLeast - have,
			Rule: "at least " + strconv.Itoa(r.AtLeast) + " " + need.String(), Text: r.unmet(need, have)})
	}
	return out
}

// unmet says what a bag has of what a rule needs, then the owner's reason if there is one, as typed.
func (r KitRule) unmet(need message.Message, have int) message.Message {
	text := message.M("{1}: {2}, at least {3} required", need, have, r.AtLeast)
	if have == 0 {
		text = message.M("{1}: none, at least {2} required", need, r.AtLeast)
	}
	if r.Because != "" {
		text = message.M("{1} ({2})", text, r.Because)
	}
	return text
}

// elsewhere is how many units an item carried elsewhere counts for: enough for any rule.
const elsewhere = 1 << 20

// Held returns how many units of each item and category count for kit rules.
func (v BagView) Held(day Day) (byItem map[string]int, byCategory map[Category]int) {
	return newContents(v, day).held(day)
}

func (s *contents) held(day Day) (byItem map[string]int, byCategory map[Category]int) {
	byItem, byCategory = map[string]int{}, map[Category]int{}
	for _, sh := range append([]*contents{s}, s.modules...) {
		for i, st := range sh.view.Stock {
			if n := st.Qty - sh.apart[i]; sh.usable(i, day) {
				byItem[st.Lot.Item] += n
				byCategory[sh.view.Items[st.Lot.Item].Category] += n
			}
		}
	}
	for _, l := range s.view.List.Lines {
		if l.CarriedElsewhere != "" {
			byItem[l.Item] += elsewhere
			byCategory[s.view.Items[l.Item].Category] += elsewhere
		}
	}
	return byItem, byCategory
}

// sealFindings judges the seal.
func sealFindings(v BagView) []Finding {
	if !v.List.Sealed {
		return nil
	}
	var out []Finding
	switch severity := sealSeverity(v.List); v.Bag.SealState {
	case SealBroken:
		out = append(out, Finding{Kind: FindSeal, Severity: severity, Text: message.M("seal was broken, not checked since")})
	case SealDifferent:
		out = append(out, Finding{Kind: FindSeal, Severity: severity,
			Text: message.M("seal number differed, not checked since")})
	case SealNone:
		out = append(out, Finding{Kind: FindNoSeal, Severity: SeverityWarn,
			Text: message.M("no seal recorded, one required")})
	}
	if len(v.SealTwins) > 0 {
		out = append(out, Finding{Kind: FindSeal, Severity: SeverityWarn,
			Text: message.M("seal {1} also on {2}", v.Bag.Seal, strings.Join(v.SealTwins, ", "))})
	}
	return out
}

// sealSeverity is how much a seal weighs that was found broken or different.
func sealSeverity(k KitList) Severity {
	if k.SealWarns {
		return SeverityWarn
	}
	return SeverityStop
}

// registerFindings judges the registers of the controlled items in the bag.
func (s *contents) registerFindings() []Finding {
	var out []Finding
	for _, c := range s.view.Miscounts {
		out = append(out, Finding{Kind: FindRegister, Severity: SeverityStop, Item: c.Item, Qty: max(c.Counted-c.Expected,
			c.Expected-c.Counted),
			Text: message.M("{1} does not balance: {2} counted, {3} recorded", s.name(c.Item), c.Counted,
				c.Expected)})
	}
	owed := map[string]int{}
	for _, o := range s.view.Owed {
		owed[o.Item]++
	}
	for _, item := range slices.Sorted(maps.Keys(owed)) {
		out = append(out, Finding{Kind: FindSignatureOwed, Severity: SeverityWarn, Item: item, Qty: owed[item],
			Text: message.M("{1} {1|second signature|second signatures} owed in the register of {2}", owed[item], s.name(item))})
	}
	return out
}

// overdueFindings judges the checks by the clock.
func overdueFindings(v BagView, now Instant, today Day) []Finding {
	var out []Finding
	if due, ok := FullCheckDue(v); ok && today > due {
		f := overdue(FindFullCheckDue, due, message.M("full check overdue since {1}", due))
		if due == 0 {
			f.Text = message.M("no full check yet")
		}
		out = append(out, f)
	}
	if due, ok := SealCheckDue(v); ok && now > due {
		day := v.Station.Today(due)
		out = append(out, overdue(FindSealCheckDue, day, message.M("seal check overdue since {1}", day)))
	}
	return out
}

func overdue(k FindingKind, due Day, text message.Message) Finding {
	return Finding{Kind: k, Severity: SeverityWarn, Date: due, Text: text}
}

// FullCheckDue returns the last day for the next full check, 0 where none was
// ever made; ok is false where the list asks for none.
func FullCheckDue(v BagView) (due Day, ok bool) {
	if v.List.FullCheckDays == 0 {
		return 0, false
	}
	if v.Bag.LastFullCheck == 0 {
		return 0, true
	}
	return v.Station.Today(v.Bag.LastFullCheck).AddDays(v.List.FullCheckDays), true
}

// SealCheckDue returns the last instant for the next seal check; ok is false
// where the list asks for none or there is no seal to look at.
func SealCheckDue(v BagView) (due Instant, ok bool) {
	if !v.List.Sealed || v.List.SealCheckHours == 0 || v.Bag.SealState == SealNone {
		return 0, false
	}
	return v.Bag.SealSeenAt.Add(time.Duration(v.List.SealCheckHours) * time.Hour), true
}

func (s *contents) name(item string) string {
	if n := s.view.Items[item].Name; n != "" {
		return n
	}
	return item
}

// retired is what a retired bag answers in place of its contents.
func retired(v BagView, asOf Day, horizon int) Readiness {
	return Readiness{Bag: v.Bag.Code, AsOf: asOf, HorizonDays: horizon, State: OutOfService, Findings: []Finding{},
		Lines: []LineState{}}
}
