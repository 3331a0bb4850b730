package inventory

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
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

// Notice is a recall or field safety notice on an item or a product: on all of
// it, or on batch numbers, serial numbers, a range of them, or a window of
// manufacture. A batch is meant when any one of these fits.
type Notice struct {
	ID         int64        `json:"id"`
	Reference  string       `json:"reference" maxLength:"60" doc:"The maker's or authority's reference"`
	Action     NoticeAction `json:"action" enum:"withdraw,inspect,inform"`
	Item       string       `json:"item,omitempty" doc:"Item code"`
	Product    int64        `json:"product,omitempty" doc:"Product id, to narrow the item to one trade pack"`
	BatchNos   []string     `json:"batch_nos,omitempty" doc:"Batch numbers"`
	Serials    []string     `json:"serials,omitempty" doc:"Serial numbers"`
	SerialFrom string       `json:"serial_from,omitempty" doc:"First serial number of a range"`
	SerialTo   string       `json:"serial_to,omitempty" doc:"Last serial number of a range"`
	MadeFrom   Day          `json:"made_from,omitempty" format:"date" doc:"First day of a window of manufacture"`
	MadeTo     Day          `json:"made_to,omitempty" format:"date" doc:"Last day of it"`
	Text       string       `json:"text,omitempty" maxLength:"2000"`
	Status     NoticeStatus `json:"status" enum:"open,closed,cancelled"`
	IssuedAt   Instant      `json:"issued_at" format:"date-time"`
	IssuedBy   string       `json:"issued_by"`
	EndedAt    Instant      `json:"ended_at,omitempty" format:"date-time"`
	EndedBy    string       `json:"ended_by,omitempty"`
	EndReason  string       `json:"end_reason,omitempty"`
}

// Check refuses a notice whose fields do not make sense. Refuses: Invalid by field.
func (n Notice) Check() error {
	var p Problems
	CheckText(&p, "reference", n.Reference, true, 60)
	CheckText(&p, "text", n.Text, false, MaxNote)
	p.When(n.Action != NoticeWithdraw && n.Action != NoticeInspect && n.Action != NoticeInform, "action",
		"choose withdraw, inspect or inform")
	p.When(n.Item == "" && n.Product == 0, "item", "name the item or the product")
	p.When(len(n.BatchNos) > 1000, "batch_nos", "give at most 1000 numbers")
	p.When(len(n.Serials) > 10000, "serials", "give at most 10000 numbers")
	for path, numbers := range map[string][]string{"batch_nos": n.BatchNos, "serials": n.Serials} {
		for i, s := range numbers {
			CheckText(&p, path+"["+strconv.Itoa(i)+"]", s, true, 40)
		}
	}
	CheckText(&p, "serial_from", n.SerialFrom, false, 40)
	CheckText(&p, "serial_to", n.SerialTo, false, 40)
	p.When((n.SerialFrom == "") != (n.SerialTo == ""), "serial_to", "give both ends of the range")
	p.When(n.SerialFrom != "" && n.SerialTo != "" && CompareSerial(n.SerialFrom, n.SerialTo) > 0, "serial_to",
		"give a number that does not come before serial_from")
	p.When((n.MadeFrom == 0) != (n.MadeTo == 0), "made_to", "give both ends of the window")
	p.When(n.MadeTo != 0 && n.MadeFrom > n.MadeTo, "made_to", "give a day on or after made_from")
	return p.Err()
}

// Means tells whether a notice means a batch. Batch and serial numbers are
// compared with case and blanks apart; a range of serial numbers counts runs of
// digits by their value. Both ends of a range and of a window belong to it.
func (n Notice) Means(b Batch) bool {
	return n.sameProduct(b.Product, false) && n.meansNumbers(b)
}

// sameProduct tells whether a batch's product is the one that the notice is
// narrowed to, if it is; loose takes an unknown product for it.
func (n Notice) sameProduct(product int64, loose bool) bool {
	return n.Product == 0 || n.Product == product || loose && product == 0
}

// meansNumbers is Means apart from the product.
func (n Notice) meansNumbers(b Batch) bool {
	if b.Item != n.Item {
		return false
	}
	in := func(numbers []string, s string) bool {
		return s != "" && slices.ContainsFunc(numbers, func(x string) bool { return FoldNumber(x) == FoldNumber(s) })
	}
	return n.whole() || in(n.BatchNos, b.BatchNo) || in(n.Serials, b.Serial) ||
		n.SerialFrom != "" && b.Serial != "" && CompareSerial(n.SerialFrom, b.Serial) <= 0 && CompareSerial(b.Serial,
			n.SerialTo) <= 0 ||
		n.MadeFrom != 0 && b.MadeOn != 0 && n.MadeFrom <= b.MadeOn && b.MadeOn <= n.MadeTo
}

// whole tells whether the notice is on all of its item or product.
func (n Notice) whole() bool {
	return len(n.BatchNos) == 0 && len(n.Serials) == 0 && n.SerialFrom == "" && n.MadeFrom == 0
}

// MightMean tells whether a notice could mean units that it does not mean for
// certain: unidentified ones, those of an unknown product, those that lack the
// number or date that the notice goes by, those whose number differs in
// leading zeros alone, and those made in a month that a window cuts through.
func (n Notice) MightMean(l Lot) bool {
	if l.Item != n.Item || !n.sameProduct(l.Product, true) || n.Means(l.Batch) {
		return false
	}
	alike := func(numbers []string, s string) bool {
		return slices.ContainsFunc(numbers, func(x string) bool { return s == "" || CompareSerial(x, s) == 0 })
	}
	month := l.MadeOn.EndOfMonth()
	return l.Unidentified || n.meansNumbers(l.Batch) || alike(n.BatchNos, l.BatchNo) || alike(n.Serials, l.Serial) ||
		n.SerialFrom != "" && l.Serial == "" ||
		n.MadeFrom != 0 && (l.MadeOn == 0 || monthOnly(l.MadeOn) && l.MadeOn <= n.MadeTo && n.MadeFrom <= month)
}

// monthOnly tells whether a date of manufacture may stand for a whole month: a
// month-only date is kept as its first day.
func monthOnly(made Day) bool {
	_, _, day := made.Date()
	return day == 1
}

// Holds tells whether a notice is in force: it was not cancelled.
func (n Notice) Holds() bool { return n.Status != NoticeCancelled }

// RecordUnder returns what the notices in force ask of a batch. inspected is
// when it last passed an inspection, if it is a device.
func RecordUnder(b Batch, notices []Notice, inspected Instant) (withdrawn []string, inspectBy Day) {
	for _, n := range notices {
		switch {
		case !n.Holds() || !n.Means(b):
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

// CompareSerial orders numbers as printed: case and blanks apart, runs of
// digits by their value, so that A9 comes before A10.
func CompareSerial(a, b string) int {
	a, b = FoldNumber(a), FoldNumber(b)
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

func FoldNumber(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }

func digitRun(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
