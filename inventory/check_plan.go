package inventory

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"stowkeeper/inventory/message"
)

// PlanCounts turns the counts of a full check into the movements that explain every difference, or says which fields
// are wrong. expected is what the crew should have found of each lot: every such lot must be counted, in all pouches
// together or in each. Refuses: Invalid by field.
func PlanCounts(bag string, lines []CheckLine, expected map[int64]int, at Instant) ([]Movement, error) {
	var ps Problems
	var out []Movement
	of := map[int64][]int{}
	for i, l := range lines {
		of[l.LotID] = append(of[l.LotID], i)
	}
	for i, l := range lines {
		if of[l.LotID][0] != i {
			continue
		}
		for _, d := range differences(lines, of[l.LotID], expected[l.LotID]) {
			path := "lines[" + strconv.Itoa(d.line) + "].reason"
			if d.unclear {
				ps.Add(path, "enter one reason for these units, or what each pouch should hold")
				continue
			}
			m, fix := ExplainCount(bag, d.count, d.diff)
			if fix != nil {
				ps = append(ps, Field{path, fix})
				continue
			}
			if m.Qty > 0 {
				m.HappenedAt = at
				out = append(out, m)
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(expected)) {
		ps.When(expected[id] > 0 && len(of[id]) == 0, "lines", "count units {1} too: recorded in this bag", id)
	}
	return out, ps.Err()
}

// difference is what one count of a lot, or all of them together, differs from what was expected.
type difference struct {
	line    int // index of the line that explains it
	count   CheckLine
	diff    int
	unclear bool // lines that must be taken together give several reasons
}

// differences compares the counts of one lot with what was expected of it: pouch by pouch where the crew were shown
// how many lay in each and those add up to what was there, else all together.
func differences(lines []CheckLine, of []int, expected int) []difference {
	var each []difference
	shown, apart := 0, len(of) > 1
	for _, i := range of {
		l := lines[i]
		if apart = apart && l.Expected != nil; apart {
			shown += *l.Expected
			each = append(each, difference{line: i, count: l, diff: l.Counted - *l.Expected})
			apart = each[len(each)-1].diff == 0 || l.Reason != ""
		}
	}
	if apart && shown == expected {
		return each
	}
	all := difference{line: of[0], count: lines[of[0]]}
	for _, i := range of[1:] {
		if !sameCause(all.count, lines[i]) {
			return []difference{{line: i, unclear: true}}
		}
		if all.count.Reason == "" && lines[i].Reason != "" {
			all.line = i
		}
		all.count = together(all.count, lines[i])
	}
	all.diff = all.count.Counted - expected
	return []difference{all}
}

// sameCause tells whether two counts of one lot can be taken together.
func sameCause(a, b CheckLine) bool {
	agree := func(x, y string) bool { return x == y || x == "" || y == "" }
	return agree(string(a.Reason), string(b.Reason)) && agree(a.Incident, b.Incident) && agree(a.CameFrom, b.CameFrom)
}

// together adds up two counts of one lot.
func together(a, b CheckLine) CheckLine {
	a.Counted += b.Counted
	a.Reason, a.Incident, a.Expected = cmp.Or(a.Reason, b.Reason), cmp.Or(a.Incident, b.Incident), nil
	a.CameFrom = cmp.Or(a.CameFrom, b.CameFrom)
	return a
}

// ExplainCount turns one difference into a movement, or says what its reason must be. No difference gives no movement.
func ExplainCount(place string, l CheckLine, diff int) (Movement, message.Message) {
	m := Movement{LotID: l.LotID, Qty: max(diff, -diff), From: place, Reference: l.Incident}
	switch {
	case diff == 0 && l.Reason == "":
		return Movement{}, nil
	case diff == 0:
		return m, message.M("leave this empty")
	case diff > 0 && l.Reason == CountFound:
		m.From, m.To, m.Reason = string(KindFound), place, ReasonFound
		if l.CameFrom != "" {
			m.From, m.Reason, m.Note = l.CameFrom, ReasonTransfer, "taken by the crew of bag "+place
		}
		return m, nil
	case diff > 0:
		return m, message.M("more than expected: choose {1}", "found")
	}
	switch l.Reason {
	case CountUsed:
		m.To, m.Reason = string(KindUsed), ReasonUsed
	case CountMissing:
		m.To, m.Reason, m.Cause = string(KindLost), ReasonLost, CauseMissing
	case CountDamaged:
		m.To, m.Reason, m.Cause = string(KindDisposed), ReasonDisposed, CauseDamaged
	case CountExpired:
		m.To, m.Reason, m.Cause = string(KindDisposed), ReasonDisposed, CauseExpired
	default:
		return m, message.M("less than expected: choose a reason")
	}
	return m, nil
}

// MergeCounts adds up the counts of one lot that lies in several pouches. They stay apart where each says what was
// expected there, and where they give several reasons or incidents.
func MergeCounts(lines []CheckLine) []CheckLine {
	of, apart := map[int64]CheckLine{}, map[int64]bool{}
	bare := map[int64]bool{}
	for _, l := range lines {
		bare[l.LotID] = bare[l.LotID] || l.Expected == nil
		sum, seen := of[l.LotID]
		if !seen {
			of[l.LotID] = l
			continue
		}
		apart[l.LotID] = apart[l.LotID] || !sameCause(sum, l)
		of[l.LotID] = together(sum, l)
	}
	var out []CheckLine
	done := map[int64]bool{}
	for _, l := range lines {
		if !bare[l.LotID] || apart[l.LotID] {
			out = append(out, l)
		} else if !done[l.LotID] {
			done[l.LotID] = true
			out = append(out, of[l.LotID])
		}
	}
	return out
}

// CheckShape refuses a check that no state of the bag could make right. Refuses: Invalid by field.
func CheckShape(c Check) error {
	var ps Problems
	ps.When(c.Kind != SealCheck && c.Kind != FullCheck, "kind", "choose one of {1}", "seal, full")
	CheckText(&ps, "seal_seen", c.SealSeen, false, 40)
	CheckText(&ps, "seal_set", c.SealSet, false, 40)
	CheckText(&ps, "note", c.Note, false, MaxNote)
	ps.When(c.ReturnToService && !c.Whole(), "return_to_service", "return to service needs a full check")
	ps.When(c.NotCounted < 0 || c.NotCounted > 2000, "not_counted", "enter {1} to {2}", 0, 2000)
	ps.When(c.NotCounted != 0 && c.Kind != FullCheck, "not_counted", "leave this empty")
	ps.When(len(c.Lines) > 2000, "lines", "enter at most {1}", 2000)
	ps.When(len(c.Inspections) > 200, "inspections", "enter at most {1}", 200)
	ps.When(c.Kind == SealCheck && len(c.Inspections) > 0, "inspections", "record a full check")
	ps.When(len(c.Found) > 200, "found", "enter at most {1}", 200)
	ps.When(c.Kind == SealCheck && c.SealSeen == "" && !c.SealBroken, "seal_seen",
		"enter the seal number, or report it broken")
	ps.When(c.Kind == SealCheck && (len(c.Lines) > 0 || len(c.Found) > 0), "lines", "record a full check")
	ps.When(c.Kind == SealCheck && c.SealSet != "", "seal_set", "a new seal needs a full check, use or restock")
	for i, l := range c.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		ps.When(l.Counted < 0 || l.Counted > MaxQty, path+".counted", "enter 0 or more")
		ps.When(l.Expected != nil && (*l.Expected < 0 || *l.Expected > MaxQty), path+".expected", "enter 0 or more")
		ps.When(l.Reason != "" && !slices.Contains(countReasons, l.Reason), path+".reason",
			"choose one of {1}", "used, missing, damaged, expired, found")
		CheckText(&ps, path+".incident", l.Incident, false, MaxName)
		if l.CameFrom != "" {
			CheckCode(&ps, path+".came_from", l.CameFrom)
			ps.When(l.Reason != CountFound, path+".came_from", "leave this empty")
		}
	}
	for i, f := range c.Found {
		f.check(&ps, "found["+strconv.Itoa(i)+"]")
	}
	there, seen := Counted(c.Lines), map[int64]bool{}
	for i, in := range c.Inspections {
		path := "inspections[" + strconv.Itoa(i) + "]"
		ps.When(!there[in.LotID], path+".lot_id", "count the device as present first")
		ps.When(seen[in.LotID], path+".lot_id", "inspect each device once")
		seen[in.LotID] = true
		in.check(&ps, path)
	}
	return ps.Err()
}

// Counted tells which lots a check counts as there.
func Counted(lines []CheckLine) map[int64]bool {
	there := map[int64]bool{}
	for _, l := range lines {
		there[l.LotID] = there[l.LotID] || l.Counted > 0
	}
	return there
}

// check refuses an inspection that no list of points could make right.
func (in InspectedLine) check(ps *Problems, path string) {
	ps.When(len(in.Points) == 0 || len(in.Points) > 60, path+".points", "enter {1} to {2}", 1, 60)
	seen := map[string]bool{}
	for i, pt := range in.Points {
		at := path + ".points[" + strconv.Itoa(i) + "]"
		CheckText(ps, at+".point", pt.Point, true, 200)
		CheckText(ps, at+".note", pt.Note, false, MaxNote)
		ps.When(seen[pt.Point], at+".point", "enter each point once")
		seen[pt.Point] = true
	}
}

var countReasons = []CountReason{CountUsed, CountMissing, CountDamaged, CountExpired, CountFound}

func (f FoundLine) check(ps *Problems, path string) {
	CheckCode(ps, path+".item", f.Item)
	CheckText(ps, path+".batch_no", f.BatchNo, false, 40)
	CheckText(ps, path+".serial", f.Serial, false, 40)
	ps.When(f.Qty < 1 || f.Qty > MaxLineQty, path+".qty", "enter {1} to {2}", 1, MaxLineQty)
	ps.When(f.Reason != "" && f.Reason != FoundStock && f.Reason != FoundTrainingMark, path+".reason",
		"choose one of {1}", "found, training_mark")
	if f.CameFrom != "" {
		CheckCode(ps, path+".came_from", f.CameFrom)
		ps.When(f.Unidentified || f.Reason == FoundTrainingMark, path+".came_from", "leave this empty")
	}
	ps.When(f.LotID != 0 && f.CameFrom == "", path+".lot_id", "leave this empty, or enter the bag it came from")
	ps.When(f.EndWording != "" && !slices.Contains(Wordings, f.EndWording), path+".end_wording",
		"choose one of {1}", "expiry, hourglass, use_by, use_before")
}
