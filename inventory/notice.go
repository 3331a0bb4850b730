package inventory

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// NoticeAction is what a notice asks for.
type NoticeAction string

// The actions.
const (
	NoticeWithdraw NoticeAction = "withdraw" // unusable from that moment, and to be pulled
	NoticeInspect  NoticeAction = "inspect"  // devices are to be inspected
	NoticeInform   NoticeAction = "inform"
)

// NoticeStatus is how far a notice has come.
type NoticeStatus string

// The statuses. A closed notice still holds: what it withdrew stays unusable.
const (
	NoticeOpen      NoticeStatus = "open"
	NoticeClosed    NoticeStatus = "closed"    // nothing is outstanding
	NoticeCancelled NoticeStatus = "cancelled" // it was wrong
)

// Notice is a recall or field safety notice on an item or a product: on all of it, or on batch numbers, serial
// numbers, a range of them, or a window of manufacture. A batch is meant when any one of these fits.
type Notice struct {
	ID        int64        `json:"id"`
	Reference string       `json:"reference" maxLength:"60" doc:"The maker's or authority's reference"`
	Action    NoticeAction `json:"action" enum:"withdraw,inspect,inform"`
	Item      string       `json:"item,omitempty" doc:"Item code"`
	Product   int64        `json:"product,omitempty" doc:"Product id, to narrow the item to one trade pack"`
	NoticeScope
	Text      string       `json:"text,omitempty" maxLength:"2000"`
	Status    NoticeStatus `json:"status" enum:"open,closed,cancelled"`
	IssuedAt  Instant      `json:"issued_at" format:"date-time"`
	IssuedBy  string       `json:"issued_by"`
	EndedAt   Instant      `json:"ended_at,omitempty" format:"date-time"`
	EndedBy   string       `json:"ended_by,omitempty"`
	EndReason string       `json:"end_reason,omitempty"`
	Steps     []NoticeStep `json:"steps,omitempty" doc:"What was done about it since, oldest first"`
}

// NoticeScope is what a notice names of its item or product; nothing stands for all of it.
type NoticeScope struct {
	BatchNos   []string `json:"batch_nos,omitempty" maxItems:"1000" doc:"Case, blanks and dashes do not count"`
	Serials    []string `json:"serials,omitempty" maxItems:"10000" doc:"Serial numbers"`
	SerialFrom string   `json:"serial_from,omitempty" maxLength:"40" doc:"Of a range; A9 comes before A10"`
	SerialTo   string   `json:"serial_to,omitempty" maxLength:"40" doc:"Last serial number of a range"`
	MadeFrom   Day      `json:"made_from,omitempty" format:"date" doc:"First day of a window of manufacture"`
	MadeTo     Day      `json:"made_to,omitempty" format:"date" doc:"Last day of it"`
}

// Check refuses a notice whose fields do not make sense. Refuses: Invalid by field.
func (n Notice) Check() error {
	var p Problems
	CheckText(&p, "reference", n.Reference, true, 60)
	CheckText(&p, "text", n.Text, false, MaxNote)
	p.When(n.Action != NoticeWithdraw && n.Action != NoticeInspect && n.Action != NoticeInform, "action",
		"choose one of {1}", "withdraw, inspect, inform")
	p.When(n.Item == "" && n.Product == 0, "item", "choose item or product")
	n.check(&p)
	return p.Err()
}

// check refuses what names nothing that could be.
func (x NoticeScope) check(p *Problems) {
	p.When(len(x.BatchNos) > 1000, "batch_nos", "enter at most {1}", 1000)
	p.When(len(x.Serials) > 10000, "serials", "enter at most {1}", 10000)
	for path, numbers := range map[string][]string{"batch_nos": x.BatchNos, "serials": x.Serials} {
		for i, s := range numbers {
			CheckText(p, path+"["+strconv.Itoa(i)+"]", s, true, 40)
		}
	}
	CheckText(p, "serial_from", x.SerialFrom, false, 40)
	CheckText(p, "serial_to", x.SerialTo, false, 40)
	p.When((x.SerialFrom == "") != (x.SerialTo == ""), "serial_to", "enter both first and last")
	p.When(x.SerialFrom != "" && x.SerialTo != "" && !between(x.SerialFrom, x.SerialFrom, x.SerialTo), "serial_to",
		"enter a later number, or the first")
	p.When((x.MadeFrom == 0) != (x.MadeTo == 0), "made_to", "enter both first and last")
	p.When(x.MadeTo != 0 && x.MadeFrom > x.MadeTo, "made_to", "enter a later day, or the first")
}

// whole tells whether nothing is named, so that all of the item or product is meant.
func (x NoticeScope) whole() bool {
	return len(x.BatchNos) == 0 && len(x.Serials) == 0 && x.SerialFrom == "" && x.MadeFrom == 0
}

// fits tells whether a batch bears what is named. Batch and serial numbers are compared by FoldNumber; a range of
// serial numbers counts runs of digits by their value. Both ends of a range and of a window belong to it.
func (x NoticeScope) fits(b BatchFacts) bool {
	in := func(numbers []string, s string) bool {
		return s != "" && slices.ContainsFunc(numbers, func(n string) bool { return FoldNumber(n) == FoldNumber(s) })
	}
	return x.whole() || in(x.BatchNos, b.BatchNo) || in(x.Serials, b.Serial) ||
		x.SerialFrom != "" && b.Serial != "" && between(b.Serial, x.SerialFrom, x.SerialTo) ||
		x.MadeFrom != 0 && b.MadeOn != 0 && x.MadeFrom <= b.MadeOn && b.MadeOn <= x.MadeTo
}

// mightFit tells whether a batch could bear what is named: it lacks the number or date that is asked about, its
// number differs in leading zeros alone, or it was made in a month that a window cuts through.
func (x NoticeScope) mightFit(b BatchFacts) bool {
	alike := func(numbers []string, s string) bool {
		return slices.ContainsFunc(numbers, func(n string) bool { return s == "" || CompareSerial(n, s) == 0 })
	}
	month := b.MadeOn.EndOfMonth()
	return alike(x.BatchNos, b.BatchNo) || alike(x.Serials, b.Serial) || x.SerialFrom != "" && b.Serial == "" ||
		x.MadeFrom != 0 && (b.MadeOn == 0 || monthOnly(b.MadeOn) && b.MadeOn <= x.MadeTo && x.MadeFrom <= month)
}

// Scopes are what the notice named when it was issued, and what it was widened to since.
func (n Notice) Scopes() []NoticeScope {
	out := []NoticeScope{n.NoticeScope}
	for _, s := range n.Steps {
		if s.Kind == StepWidened {
			out = append(out, s.NoticeScope)
		}
	}
	return out
}

// Means tells whether a notice means a batch: by anything that it ever bore, so
// that no correction takes a batch out of it.
func (n Notice) Means(b Batch) bool { return n.meansAny(b.Ever(), n.Scopes()) }

func (n Notice) meansAny(facts []BatchFacts, scopes []NoticeScope) bool {
	return slices.ContainsFunc(facts, func(f BatchFacts) bool {
		return n.on(f, false) && slices.ContainsFunc(scopes, func(x NoticeScope) bool { return x.fits(f) })
	})
}

// on tells whether facts are of the notice's item, and of the product that it is
// narrowed to, if it is; loose takes an unknown product for that.
func (n Notice) on(f BatchFacts, loose bool) bool {
	return f.Item == n.Item && (n.Product == 0 || n.Product == f.Product || loose && f.Product == 0)
}

// MightMean tells whether a notice could mean units that it does not mean for certain: unidentified ones, those of an
// unknown product, and those that lack or half bear what the notice goes by.
func (n Notice) MightMean(l Lot) bool {
	return !n.Means(l.Batch) && slices.ContainsFunc(l.Ever(), func(f BatchFacts) bool {
		return n.on(f, true) && (l.Unidentified || slices.ContainsFunc(n.Scopes(), func(x NoticeScope) bool {
			return x.fits(f) || x.mightFit(f)
		}))
	})
}

// monthOnly tells whether a date of manufacture may stand for a whole month: a
// month-only date is kept as its first day.
func monthOnly(made Day) bool {
	_, _, day := made.Date()
	return day == 1
}

// WouldStop returns the bags that are not stopped now, and would be once the notice is issued.
func (n Notice) WouldStop(views []BagView, now Instant) (out []Bag) {
	for _, v := range views {
		if n.Action == NoticeWithdraw && !v.Bag.Retired() && ReadinessOf(v, now, 0, 0).State != NotReady &&
			ReadinessOf(n.over(v), now, 0, 0).State == NotReady {
			out = append(out, v.Bag)
		}
	}
	return out
}

// over is a bag with what the notice withdraws in it and its modules.
func (n Notice) over(v BagView) BagView {
	v.Stock, v.Modules = slices.Clone(v.Stock), slices.Clone(v.Modules)
	for i, st := range v.Stock {
		if n.Binds(st.Lot.Batch) {
			v.Stock[i].Lot.Withdrawn = append(slices.Clone(st.Lot.Withdrawn), n.Reference)
		}
	}
	for i, m := range v.Modules {
		v.Modules[i] = n.over(m)
	}
	return v
}

// Holds tells whether a notice is in force: it was not cancelled.
func (n Notice) Holds() bool { return n.Status != NoticeCancelled }

// RecordUnder returns what the notices in force ask of a batch. inspected is
// when it last passed an inspection, if it is a device.
func RecordUnder(b Batch, notices []Notice, inspected Instant) (withdrawn []string, inspectBy Day) {
	for _, n := range notices {
		switch {
		case !n.Holds() || !n.Binds(b):
		case n.Action == NoticeWithdraw:
			withdrawn = append(withdrawn, n.Reference)
		case n.Action == NoticeInspect && n.Status == NoticeOpen && inspected < n.IssuedAt:
			if on := n.IssuedAt.InUTC(); inspectBy == 0 || on < inspectBy {
				inspectBy = on
			}
		}
	}
	return withdrawn, inspectBy
}

// CompareSerial orders numbers as printed: case, blanks and dashes apart, runs
// of digits by their value, so that A9 comes before A10.
func CompareSerial(a, b string) int { return compareRuns(FoldNumber(a), FoldNumber(b)) }

func compareRuns(a, b string) int {
	for a != "" && b != "" {
		da, db := digitRun(a), digitRun(b)
		if da > 0 && db > 0 {
			na, nb := strings.TrimLeft(a[:da], "0"), strings.TrimLeft(b[:db], "0")
			if c := cmp.Or(cmp.Compare(len(na), len(nb)), strings.Compare(na, nb)); c != 0 {
				return c
			}
			a, b = a[da:], b[db:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// between tells whether a number lies in a range, by either reading of a dash or blank between digits: that it says
// nothing, so that A1-99 is A199, or that it parts two numbers, so that A1-99 comes before A2-1. A recall takes in
// what either takes in.
func between(s, from, to string) bool {
	within := func(fold func(string) string) bool {
		return compareRuns(fold(from), fold(s)) <= 0 && compareRuns(fold(s), fold(to)) <= 0
	}
	return within(FoldNumber) || within(foldParts)
}

// FoldNumber is a batch or serial number without what does not tell numbers apart: case, blanks and dashes.
func FoldNumber(s string) string {
	return strings.Map(func(r rune) rune {
		if parts(r) {
			return -1
		}
		return unicode.ToUpper(r)
	}, s)
}

// foldParts is FoldNumber with a mark where a dash or blank parts two digits.
func foldParts(s string) string {
	var out []byte
	for _, part := range strings.FieldsFunc(s, parts) {
		part = strings.ToUpper(part)
		if len(out) > 0 && digitRun(part) > 0 && digitRun(string(out[len(out)-1:])) > 0 {
			out = append(out, 0)
		}
		out = append(out, part...)
	}
	return string(out)
}

func parts(r rune) bool { return unicode.IsSpace(r) || unicode.Is(unicode.Pd, r) || r == '\u2212' }

func digitRun(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// NoticesOn narrows a list of notices to the item that batches ever were recorded as of; where they were of several it
// does not narrow.
func NoticesOn(batches ...Batch) (f NoticeFilter) {
	for _, b := range batches {
		for _, x := range b.Ever() {
			if f.Item != "" && f.Item != x.Item {
				return NoticeFilter{}
			}
			f.Item = x.Item
		}
	}
	return f
}
