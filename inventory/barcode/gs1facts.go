package barcode

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// factsOf takes the facts from checked tokens.
func factsOf(tokens []token, today Date) Facts {
	f := Facts{Elements: make(map[string]string, len(tokens))}
	for _, t := range tokens {
		f.Elements[t.id.ai] = t.value
		f.Ordered = append(f.Ordered, Element{t.id.ai, t.id.title, t.value, t.start})
	}
	f.ProductCode = f.firstOf("01", "02", "03")
	f.BatchNo = f.Elements["10"]
	f.Serial = f.Elements["21"]
	f.Qty = number(f.firstOf("30", "37"))
	f.takeDates(today)
	f.Warnings = append(f.Warnings, pairings(tokens)...)
	f.Warnings = append(f.Warnings, f.endWarnings(tokens)...)
	f.Warnings = append(f.Warnings, f.swallowed(tokens, today)...)
	return f
}

func (f *Facts) firstOf(ais ...string) string {
	for _, ai := range ais {
		if v := f.Elements[ai]; v != "" {
			return v
		}
	}
	return ""
}

// takeDates reads the dates that are facts: made on from (11) or (8008), best
// before from (15), end from (17) and (7003). The values are checked already.
func (f *Facts) takeDates(today Date) {
	if v := f.firstOf("11", "8008"); v != "" {
		made, _ := shortDate(v[:6], today, true)
		f.MadePrinted, f.MadeOn = made.String(), made.first()
	}
	if v := f.Elements["15"]; v != "" {
		best, _ := shortDate(v, today, true)
		f.BestBefore = best.last()
	}
	if v := f.Elements["17"]; v != "" {
		end, _ := shortDate(v, today, true)
		f.EndPrinted, f.UsableThrough = end.String(), end.last()
	}
	if v := f.Elements["7003"]; v != "" {
		end, _ := shortDate(v[:6], today, false)
		if f.UsableThrough.IsZero() || !f.UsableThrough.before(end) {
			f.EndPrinted, f.UsableThrough = end.String(), end
			f.EndTime = end.String() + "T" + v[6:8] + ":" + v[8:]
		}
	}
}

// endWarnings tells of an end with a clock time, and of two ends.
func (f *Facts) endWarnings(tokens []token) []Warning {
	var all []Warning
	i := slices.IndexFunc(tokens, func(t token) bool { return t.id.ai == "7003" })
	if i < 0 {
		return nil
	}
	all = append(all, clockTimeWarning("7003", tokens[i].start))
	if f.Elements["17"] != "" && f.Elements["17"] != f.Elements["7003"][:6] {
		all = append(all, Warning{
			Kind: TwoEnds, AI: "7003", Position: tokens[i].start,
			Text: message.M("two different expiry days; the earlier was used"),
		})
	}
	return all
}

func clockTimeWarning(ai string, at int) Warning {
	return Warning{
		Kind: ClockTime, AI: ai, Position: at,
		Text: message.M("expiry hour ignored"),
	}
}

// swallowed warns of lot and serial numbers whose end reads as a date element and whatever follows it: packs are sold
// that lack the separator, and then the lot runs on. The value stays as it was read.
func (f *Facts) swallowed(tokens []token, today Date) []Warning {
	var all []Warning
	for _, t := range tokens {
		if t.id.ai != "10" && t.id.ai != "21" {
			continue
		}
		i := f.dateInside(t.value, today)
		if i < 0 {
			continue
		}
		all = append(all, Warning{
			Kind: Swallowed, AI: t.id.ai, Position: t.at(i), Suspect: t.value[i:],
			Text: message.M("a separator may be missing before ({1}): compare with the print", t.value[i:i+2]),
		})
	}
	return all
}

// dateInside returns where in v a date element begins from which on all of v reads as elements, or -1. An identifier
// that the symbol has anyway is not looked for.
func (f *Facts) dateInside(v string, today Date) int {
	for i := 1; i+8 <= len(v); i++ {
		if !strings.Contains("11 13 15 16 17", v[i:i+2]) || f.Elements[v[i:i+2]] != "" {
			continue
		}
		tokens, err := elementString(v, i)
		if err == nil && validate(tokens, today) == nil {
			return i
		}
	}
	return -1
}
