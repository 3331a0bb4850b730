// Package rests says what the verdict about a bag rests on, so that a phone without signal can judge it anew with
// what it recorded itself.
package rests

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Rests is what the verdict about a bag rests on, in words: a phone without signal judges by it what it recorded
// itself and has not sent yet, as ReadinessOf would once it is sent. It travels with every page of a bag, so it is
// short: items and pouches are named once, and told by their number after that.
type Rests struct {
	Off      string              `json:"off,omitempty"` // why it is out of service
	Training bool                `json:"tr,omitempty"`
	Sealed   bool                `json:"sd,omitempty"`
	SealStop bool                `json:"ss,omitempty"` // a broken or different seal stops it
	Seal     string              `json:"seal,omitempty"`
	State    inventory.SealState `json:"st,omitempty"`
	Twins    string              `json:"tw,omitempty"` // what is said of other bags with the same seal
	Items    []string            `json:"n,omitempty"`
	Pouches  []string            `json:"w,omitempty"`
	Lines    [][]int             `json:"l,omitempty"` // of the list: item, par, minimum, pouch, then items accepted
	// In the bag: id, item, units, 1 for usable, order of use, units reported away.
	Lots   [][]int64     `json:"s,omitempty"`
	Labels []RestLabel   `json:"e,omitempty"`
	Rules  []RestRule    `json:"r,omitempty"`
	Before []RestFinding `json:"b,omitempty"` // what else was found, those that come before the seal
	After  []RestFinding `json:"a,omitempty"` // … and after it
}

// RestLabel is what is said of a lot: how it is marked, and what was found of it.
type RestLabel struct {
	Lot    int           `json:"i"` // its index
	Batch  string        `json:"b,omitempty"`
	Serial string        `json:"e,omitempty"`
	Found  []RestFinding `json:"f,omitempty"`
	Points int           `json:"p,omitempty"` // that decide an inspection, where one is offered
}

// RestRule is a kit rule: how many units of some items there must be, if there are any of some others.
type RestRule struct {
	When    []int  `json:"w,omitempty"`
	Always  bool   `json:"y,omitempty"` // whatever else is there
	Need    []int  `json:"n,omitempty"`
	Base    int    `json:"b,omitempty"` // units that count and lie elsewhere
	AtLeast int    `json:"m"`
	Stops   bool   `json:"s,omitempty"`
	Text    string `json:"t"`
	Because string `json:"c,omitempty"`
}

// RestFinding is a finding that stays as it is, or stays for as long as its lot lies there.
type RestFinding struct {
	Stops bool   `json:"s,omitempty"`
	Text  string `json:"t"`
	// What a record may settle: full, seal, look, units of a report, the seal it saw or left open; or a module's code.
	Kind string `json:"k,omitempty"`
	Lots []int  `json:"l,omitempty"` // index of those that a report is about
	Over string `json:"o,omitempty"` // the text once all units of a report were counted
}

// units stands in the text of a lot's finding for how many units of it there are.
const units = "¤"

// contents is what lies in a bag on the day that it is judged for.
type contents struct {
	*inventory.BagView
	day   inventory.Day
	items []string // codes of what the list asks for or the bag holds
	apart map[int64]int
	say   func(message.Message) string

	reports []inventory.UnderReview
}

// Of returns what the verdict of a checklist rests on, worded by say.
func Of(c inventory.Checklist, say func(message.Message) string) Rests {
	v := c.View
	if v == nil {
		return Rests{}
	}
	s := contents{BagView: v, day: c.Readiness.AsOf, apart: map[int64]int{}, say: say}
	s.reports = inventory.WordReports(v.Reports, v.Station)
	for _, u := range s.reports {
		for _, said := range u.Says {
			s.apart[said.LotID] += said.Counts
		}
	}
	r := Rests{Training: v.Bag.Purpose == inventory.ForTraining, Sealed: v.List.Sealed, SealStop: !v.List.SealWarns,
		Seal: v.Bag.Seal, State: v.Bag.SealState}
	if v.Bag.OutOfService != nil {
		r.Off = v.Bag.OutOfService.Reason
	}
	s.listItems()
	for _, code := range s.items {
		r.Items = append(r.Items, s.name(code))
	}
	for _, l := range v.List.Lines {
		if !slices.Contains(r.Pouches, l.Pouch) {
			r.Pouches = append(r.Pouches, l.Pouch)
		}
		par, minimum := l.Wanted()
		line := []int{slices.Index(s.items, l.Item), par, minimum, slices.Index(r.Pouches, l.Pouch)}
		for _, code := range l.Accepts {
			line = append(line, slices.Index(s.items, code))
		}
		r.Lines = append(r.Lines, line)
	}
	r.Lots, r.Rules = s.lots(), s.rules()
	for _, f := range c.Readiness.Findings {
		s.rest(&r, f)
	}
	for _, o := range inventory.InspectionsToOffer(c.Readiness) {
		if l := s.label(&r, o.LotID); l != nil {
			l.Points = len(s.Items[s.Stock[l.Lot].Lot.Item].Points())
		}
	}
	return r
}

func (s *contents) name(code string) string { return cmp.Or(s.Items[code].Name, code) }

func (s *contents) listItems() {
	add := func(code string) {
		if !slices.Contains(s.items, code) {
			s.items = append(s.items, code)
		}
	}
	for _, l := range s.List.Lines {
		add(l.Item)
	}
	for _, st := range s.Stock {
		add(st.Lot.Item)
	}
	for _, l := range s.List.Lines { // what may be found
		for _, code := range l.Accepts {
			add(code)
		}
	}
}

func (s *contents) through(row int) inventory.Day {
	l := s.Stock[row].Lot
	return inventory.UsableThrough(s.Items[l.Item], l, s.day)
}

func (s *contents) usable(row int) bool {
	l := s.Stock[row].Lot
	return inventory.Usable(s.Items[l.Item], l, s.day, s.Bag.Purpose)
}

func (s *contents) lots() (out [][]int64) {
	order := make([]int, len(s.Stock))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(inventory.CompareEnd(s.through(a), s.through(b)), cmp.Compare(s.Stock[a].Lot.ID, s.Stock[b].Lot.ID))
	})
	used := map[string]int64{} // lots of an item that go first
	out = make([][]int64, len(s.Stock))
	for _, row := range order {
		st := s.Stock[row]
		lot := []int64{st.Lot.ID, int64(slices.Index(s.items, st.Lot.Item)), int64(st.Qty), 0, used[st.Lot.Item],
			int64(s.apart[st.Lot.ID])}
		used[st.Lot.Item]++
		if s.usable(row) {
			lot[3] = 1
		}
		for lot[len(lot)-1] == 0 {
			lot = lot[:len(lot)-1]
		}
		out[row] = lot
	}
	return out
}

// rules are the kit rules with the items that count for each.
func (s *contents) rules() (out []RestRule) {
	own := map[string]int{} // what counts in the bag itself
	for i, st := range s.Stock {
		if s.usable(i) {
			own[st.Lot.Item] += st.Qty - min(st.Qty, s.apart[st.Lot.ID])
		}
	}
	byItem, byCategory := s.Held(s.day)
	of := func(c inventory.Category) (numbers []int, elsewhere int) {
		elsewhere = byCategory[c]
		for i, code := range s.items {
			if s.Items[code].Category == c {
				numbers, elsewhere = append(numbers, i), elsewhere-own[code]
			}
		}
		return numbers, elsewhere
	}
	for _, k := range s.List.Rules {
		r := RestRule{AtLeast: k.AtLeast, Stops: k.Severity == inventory.SeverityStop, Because: k.Because}
		when, n := of(k.WhenCategory)
		if r.Always = k.WhenCategory == "" || n > 0; !r.Always {
			r.When = when
		}
		if k.NeedItem == "" {
			r.Text = s.say(k.NeedCategory.Text())
			r.Need, r.Base = of(k.NeedCategory)
		} else {
			r.Text, r.Base = s.name(k.NeedItem), byItem[k.NeedItem]-own[k.NeedItem]
			if i := slices.Index(s.items, k.NeedItem); i >= 0 {
				r.Need = []int{i}
			}
		}
		out = append(out, r)
	}
	return out
}

// index returns which of the lots in the bag it is, -1 for none.
func (s *contents) index(lot int64) int {
	return slices.IndexFunc(s.Stock, func(st inventory.Stock) bool { return st.Lot.ID == lot })
}

// label returns what is said of a lot in the bag, nil for one that does not lie there.
func (s *contents) label(r *Rests, lot int64) *RestLabel {
	i := s.index(lot)
	if i < 0 {
		return nil
	}
	at := slices.IndexFunc(r.Labels, func(l RestLabel) bool { return l.Lot == i })
	if at < 0 {
		l := s.Stock[i].Lot
		r.Labels, at = append(r.Labels, RestLabel{Lot: i, Batch: l.BatchNo, Serial: l.Serial}), len(r.Labels)
	}
	return &r.Labels[at]
}

// rest puts a finding where it belongs. What a phone works out anew is left out: lines, rules, the seal, surplus.
func (s *contents) rest(r *Rests, f inventory.Finding) {
	x := RestFinding{Stops: f.Severity == inventory.SeverityStop, Text: s.say(f.Text)}
	switch f.Kind {
	case inventory.FindBelowMinimum, inventory.FindBelowPar, inventory.FindKitRule:
	case inventory.FindSurplus:
		s.label(r, f.LotID)
	case inventory.FindSeal, inventory.FindNoSeal:
		switch {
		case f.Report != "":
			x.Kind = "other"
			if f.Kind == inventory.FindNoSeal {
				x.Kind = "open"
			}
			r.Before = append(r.Before, x)
		case len(s.SealTwins) > 0 && strings.Contains(x.Text, strings.Join(s.SealTwins, ", ")):
			r.Twins = x.Text
		}
	case inventory.FindUnderNotice, inventory.FindPastEnd, inventory.FindEndsSoon, inventory.FindInspectionDue,
		inventory.FindWornOut, inventory.FindNotOnList:
		if l := s.label(r, f.LotID); l != nil {
			lot := s.Stock[l.Lot].Lot
			if f.Kind == inventory.FindInspectionDue {
				x.Kind = "look"
			}
			x.Text = strings.Replace(x.Text, s.say(inventory.UnitsOf(f.Qty, s.name(lot.Item), lot)), units, 1)
			l.Found = append(l.Found, x)
			return
		}
		x.Kind = f.Module
		r.Before = append(r.Before, x)
	case inventory.FindFullCheckDue:
		x.Kind = "full"
		r.After = append(r.After, x)
	case inventory.FindSealCheckDue:
		x.Kind = "seal"
		r.After = append(r.After, x)
	case inventory.FindRegister, inventory.FindSignatureOwed:
		r.After = append(r.After, x)
	case inventory.FindUnderReview:
		u := s.reports[slices.IndexFunc(s.reports, func(u inventory.UnderReview) bool { return u.Report == f.Report })]
		x.Kind = "units"
		for _, said := range u.Says {
			if said.Counts > 0 {
				x.Lots = append(x.Lots, s.index(said.LotID))
			}
		}
		u.Says = nil
		if over := s.say(inventory.WordReports([]inventory.UnderReview{u}, s.Station)[0].Text); over != x.Text {
			x.Over = over
		}
		r.Before = append(r.Before, x)
	default:
		if x.Kind = f.Module; f.Report != "" && f.LotID != 0 && s.index(f.LotID) >= 0 {
			x.Kind, x.Lots = "look", []int{s.index(f.LotID)}
		}
		r.Before = append(r.Before, x)
	}
}
