package inventory

import (
	"cmp"
	"slices"
	"time"

	"stowkeeper/inventory/message"
)

// Wording is how a pack words its date.
type Wording string

// The wordings that are told apart.
const (
	WordExpiry    Wording = "expiry"
	WordHourglass Wording = "hourglass" // the symbol of ISO 15223-1, 5.1.4
	WordUseBy     Wording = "use_by"
	WordUseBefore Wording = "use_before"
	WordUnstated  Wording = "unstated" // a medicine's, found or imported without: judged as the earliest it may mean
)

// Wordings lists the wordings that are told apart on a pack.
var Wordings = []Wording{WordExpiry, WordHourglass, WordUseBy, WordUseBefore}

// LastUsable returns the last day, inclusive, that a printed date means. printed is YYYY-MM or YYYY-MM-DD.
//
// Sources: "expiry", "use by" and "use before" on medicines as UK packs mean them, UK Medicines Information Q&A
// 213.2; the hourglass symbol, ISO 15223-1, 5.1.4; a GS1 date with day 00 arrives here as a month and "expiry", GS1
// General Specifications 3.4.
func LastUsable(printed string, w Wording, c Category) (Day, error) {
	y, m, _, month := splitDate(printed, 7)
	if month {
		first, err := NewDay(y, time.Month(m), 1)
		if err != nil {
			return 0, InvalidField("end_printed", "enter a date like 2027-06 or 2027-06-14")
		}
		return lastUsableMonth(first, w, c)
	}
	day, err := ParseDay(printed)
	if err != nil {
		return 0, InvalidField("end_printed", "enter a date like 2027-06 or 2027-06-14")
	}
	switch w {
	case WordExpiry, WordHourglass, WordUseBy:
		return day, nil
	case WordUseBefore, WordUnstated:
		return day.AddDays(-1), nil
	}
	return 0, errWording()
}

func lastUsableMonth(first Day, w Wording, c Category) (Day, error) {
	before := first.AddDays(-1)
	switch w {
	case WordExpiry, WordHourglass:
		return first.EndOfMonth(), nil
	case WordUseBefore, WordUnstated:
		return before, nil
	case WordUseBy:
		if c.Medicinal() {
			return before, nil
		}
		return first.EndOfMonth(), nil
	}
	return 0, errWording()
}

func errWording() error {
	return InvalidField("end_wording", "choose one of {1}", "expiry, hourglass, use_by, use_before")
}

// ParseMade reads a printed date of manufacture; a month alone means its first day.
func ParseMade(printed string) (Day, error) {
	if y, m, _, ok := splitDate(printed, 7); ok {
		return NewDay(y, time.Month(m), 1)
	}
	return ParseDay(printed)
}

// EndRule names the life rule that sets an end date.
type EndRule string

// The rules, in the order that settles ties.
const (
	RulePrinted EndRule = "printed" // the maker's date
	RuleMade    EndRule = "made"    // owner's policy: months after manufacture
	RuleStowed  EndRule = "stowed"  // owner's policy: months after first stowed in a bag
	RuleExposed EndRule = "exposed" // owner's policy: days on which it was carried exposed
	RuleOpened  EndRule = "opened"  // owner's policy: days after opening
)

// End is one end date of a lot: the last day, inclusive, on which it counts.
type End struct {
	On     Day             `json:"on" format:"date" doc:"Use by: the last day on which it counts"`
	Rule   EndRule         `json:"rule" doc:"The life rule that sets it"`
	Policy bool            `json:"policy" doc:"True for a limit that the owner chose, false for the maker's printed date"`
	Text   message.Message `json:"text" doc:"The same in words"`
}

// Ends returns the end dates of a lot, earliest first; among equal dates the order of the rules decides. today
// matters only for a lot that rides exposed: its end is today and the days left.
func Ends(it Item, l Lot, today Day) []End {
	var ends []End
	for i, on := range endDays(it, l, today) {
		if on == 0 {
			continue
		}
		rule, text := endRules[i], message.Message(nil)
		switch rule {
		case RulePrinted:
			text = message.M("printed {1}", endText(l.Facts()))
		case RuleMade:
			text = message.M("{1} {1|month|months} after manufacture, your policy", it.Life.MadeMonths)
		case RuleStowed:
			text = message.M("{1} {1|month|months} after first stowing, your policy", it.Life.StowedMonths)
		case RuleExposed:
			text = message.M("{1} {1|day|days} carried exposed, your policy", it.Life.ExposedDays)
		case RuleOpened:
			text = message.M("{1} {1|day|days} after opening, your policy", it.Life.OpenedDays)
		}
		ends = append(ends, End{On: on, Rule: rule, Policy: rule != RulePrinted, Text: text})
	}
	slices.SortStableFunc(ends, func(a, b End) int { return cmp.Compare(a.On, b.On) })
	return ends
}

// endRules are the rules in the order that decides among equal dates.
var endRules = [5]EndRule{RulePrinted, RuleMade, RuleStowed, RuleExposed, RuleOpened}

// endDays are the days on which a lot ends by each of endRules, 0 for no such end.
func endDays(it Item, l Lot, today Day) (on [5]Day) {
	on[0] = l.LastUsable
	if n := it.Life.MadeMonths; n > 0 && l.MadeOn != 0 {
		on[1] = l.MadeOn.AddMonths(n)
	}
	if n := it.Life.StowedMonths; n > 0 && l.StowedOn != 0 {
		on[2] = l.StowedOn.AddMonths(n)
	}
	on[3], _ = exposedEnd(it.Life.ExposedDays, l.Clocks, today)
	if n := it.Life.OpenedDays; n > 0 && l.OpenedOn != 0 {
		on[4] = l.OpenedOn.AddDays(n)
	}
	return on
}

// exposedEnd returns the end that exposure sets. On a carrier it is today and the days left. Elsewhere the clock
// stands still, so there is none until the days are used up: then it is the day on which they were, wherever it lies.
func exposedEnd(limit int, c Clocks, today Day) (Day, bool) {
	switch {
	case limit == 0:
		return 0, false
	case c.ExposedDays >= limit && c.ExposedLast != 0:
		return c.ExposedLast.AddDays(limit - c.ExposedDays), true
	case c.ExposedSince != 0:
		return today.AddDays(limit - c.DaysExposed(today)), true
	}
	return 0, false
}

// ExposureSpent tells whether a lot that lies inside has no day left on a carrier: it is picked for nothing any more.
func ExposureSpent(it Item, c Clocks) bool {
	n := it.Life.ExposedDays
	return n > 0 && c.ExposedSince == 0 && c.ExposedDays >= n
}

// Governing returns the end that decides: the earliest. ok is false for a lot without any end date.
func Governing(it Item, l Lot, today Day) (end End, ok bool) {
	ends := Ends(it, l, today)
	if len(ends) == 0 {
		return End{}, false
	}
	return ends[0], true
}

// UsableThrough returns the governing date of a lot, or 0 for none.
func UsableThrough(it Item, l Lot, today Day) Day {
	on, _ := governs(it, l, today)
	return on
}

func governingRule(it Item, l Lot, today Day) EndRule {
	_, rule := governs(it, l, today)
	return rule
}

// governs is Governing without the words.
func governs(it Item, l Lot, today Day) (first Day, rule EndRule) {
	for i, on := range endDays(it, l, today) {
		if on != 0 && (first == 0 || on < first) {
			first, rule = on, endRules[i]
		}
	}
	return first, rule
}

// Usable tells whether a lot counts on a day in a place of that purpose: identified, not withdrawn, not worn out in
// training, of the same purpose, not past its governing date.
func Usable(it Item, l Lot, day Day, p Purpose) bool {
	return !l.Unidentified && l.Training == (p == ForTraining) && !Unfit(it, l, day)
}

// Unfit tells whether a lot has to leave its bag on a day: it is withdrawn, worn out in training, or past its date.
func Unfit(it Item, l Lot, day Day) bool {
	return len(l.Withdrawn) > 0 || WornOut(it, l) || PastEnd(it, l, day)
}

// PastEnd tells whether the day lies after the lot's governing date.
func PastEnd(it Item, l Lot, day Day) bool { return UsableThrough(it, l, day).passed(day) }

// passed tells whether a day lies after d, the last usable one or 0 for none.
func (d Day) passed(day Day) bool { return d != 0 && day > d }

// CompareEnd orders governing dates ascending with "none" last.
func CompareEnd(a, b Day) int {
	switch {
	case a == b:
		return 0
	case a == 0:
		return 1
	case b == 0:
		return -1
	}
	return cmp.Compare(a, b)
}
