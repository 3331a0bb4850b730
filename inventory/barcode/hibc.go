package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// hibcSet lists the characters of HIBC in the order of their values.
const hibcSet = digits + upper + "-. $/+%"

// Lengths of ANSI/HIBC 2.6 section 2; the quantity's from memory.
const (
	maxPCN      = 18
	maxLot      = 18
	maxOldLot   = 13
	maxQuantity = 5
)

var (
	hibcChars = newCharset(message.M("character not allowed"), hibcSet)
	hibcCode  = newCharset(message.M("character not allowed"), digits+upper)
	hibcLot   = newCharset(message.M("character not allowed"), digits+upper+"-.")
)

// HIBCFields are the names under which Facts.Elements holds the fields of an HIBC label: labeler, product code, unit
// of measure, quantity, end date, lot and serial number of the main fields; the supplements by their identifiers; the
// link character of a secondary label; the check character.
var HIBCFields = map[string]string{
	"lic": "LABELER", "pcn": "PRODUCT CODE", "uom": "UNIT OF MEASURE",
	"qty": "QUANTITY", "end": "EXPIRY", "lot": "LOT", "serial": "SERIAL",
	"14D": "EXPIRY", "16D": "PRODUCTION DATE", "S": "SERIAL", "Q": "QUANTITY",
	"link": "LINK CHARACTER", "check": "CHECK CHARACTER",
}

// label gathers the facts of an HIBC label.
type label struct {
	facts Facts
}

// supplierLabel reads an HIBC supplier label, whose "+" stands at from.
func supplierLabel(text string, from int) (Facts, *Error) {
	rest := text[from:]
	if i := hibcChars.outside(rest); i >= 0 {
		reason := hibcChars.only
		if c := rest[i]; c >= 'a' && c <= 'z' {
			reason = message.Join("; ", reason, message.M("the scanner may be set to full ASCII"))
		}
		return Facts{}, &Error{Position: from + i, Reason: reason}
	}
	if strings.HasPrefix(rest, "+/") {
		return Facts{}, &Error{Position: from + 1,
			Reason: message.M("this identifies a patient, not a pack"), Trouble: Foreign}
	}
	last := len(rest) - 1
	if last < 2 {
		return Facts{}, &Error{Position: len(text), Reason: message.M("too short")}
	}
	if want := hibcCheck(rest[:last]); rest[last] != want {
		return Facts{}, &Error{Position: from + last, Reason: message.M("wrong check digit")}
	}
	l := label{Facts{Scheme: HIBC, Elements: map[string]string{}}}
	if err := l.read(segment{rest[1:last], from + 1}); err != nil {
		return Facts{}, err
	}
	err := l.add("check", segment{rest[last:], from + last})
	return l.facts, err
}

// hibcCheck is the check character after s: the sum of the values modulo 43 (ANSI/HIBC 2.6 appendix B).
func hibcCheck(s string) byte {
	sum := 0
	for i := 0; i < len(s); i++ {
		sum += strings.IndexByte(hibcSet, s[i])
	}
	return hibcSet[sum%len(hibcSet)]
}

// read takes the label apart, without "+" and check character.
func (l *label) read(body segment) *Error {
	switch c := body.s[0]; {
	case c >= 'A' && c <= 'Z':
		primary, rest, combined := strings.Cut(body.s, "/")
		if err := l.primary(segment{primary, body.at}); err != nil || !combined {
			return err
		}
		return l.fields(segment{rest, body.at + len(primary) + 1})
	case c == '$' || isDigit(c):
		last := len(body.s) - 1
		if err := l.fields(segment{body.s[:last], body.at}); err != nil {
			return err
		}
		l.facts.Warnings = append(l.facts.Warnings, Warning{
			Kind: Needs, AI: "link", Position: body.at + last,
			Text: message.M("secondary code only: scan the pack's other code too"),
		})
		return l.add("link", segment{body.s[last:], body.at + last})
	}
	return &Error{Position: body.at, Reason: message.M("a letter, digit or $ must follow the plus sign"),
		Trouble: NoPack}
}

// primary reads labeler, product code and unit of measure.
func (l *label) primary(s segment) *Error {
	if i := hibcCode.outside(s.s); i >= 0 {
		return &Error{Position: s.at + i, Reason: hibcCode.only}
	}
	const labeler = 4
	unit := len(s.s) - 1
	switch {
	case unit <= labeler:
		return &Error{Position: s.at + len(s.s), Reason: message.M("too short")}
	case !isDigit(s.s[unit]):
		return &Error{Position: s.at + unit, AI: "uom", Reason: message.M("character not allowed")}
	case unit-labeler > maxPCN:
		return &Error{Position: s.at + labeler + maxPCN, AI: "pcn", Reason: message.M("too long")}
	}
	l.facts.ProductCode = s.s
	_ = l.add("lic", segment{s.s[:labeler], s.at}) // the first of their names
	_ = l.add("pcn", segment{s.s[labeler:unit], s.at + labeler})
	_ = l.add("uom", segment{s.s[unit:], s.at + unit})
	return nil
}

// fields reads the secondary part: one main field, or none, and supplements.
func (l *label) fields(s segment) *Error {
	pieces := split(s.s, s.at, "/")
	for i, p := range pieces {
		known, err := l.supplement(p, i == len(pieces)-1)
		switch {
		case err != nil:
			return err
		case known:
		case i > 0:
			return &Error{Position: p.at, Reason: message.M("unknown part after the slash")}
		default:
			if err := l.secondary(p); err != nil {
				return err
			}
		}
	}
	return nil
}

// secondary reads the main field, told apart by its flag.
func (l *label) secondary(s segment) *Error {
	switch {
	case strings.HasPrefix(s.s, "$$+"):
		return l.dated(s.from(3), "serial")
	case strings.HasPrefix(s.s, "$$"):
		return l.dated(s.from(2), "lot")
	case strings.HasPrefix(s.s, "$+"):
		return l.text("serial", s.from(2), 1, maxLot)
	case strings.HasPrefix(s.s, "$"):
		return l.text("lot", s.from(1), 1, maxLot)
	case s.s == "":
		return &Error{Position: s.at, Reason: message.M("no data")}
	}
	rest, err := l.date("end", "YYJJJ", s)
	if err != nil {
		return err
	}
	return l.text("lot", rest, 0, maxOldLot)
}

// dated reads what follows $$: a quantity or not, a date or not, then the lot or serial number.
func (l *label) dated(s segment, name string) *Error {
	if size := quantitySize(s.s); size > 0 {
		rest, err := l.quantity("qty", s.from(1), size, size)
		if err != nil || rest.s == "" {
			return err
		}
		s = rest
	}
	if s.s == "" {
		return &Error{Position: s.at, AI: "end", Reason: message.M("wrong date format")}
	}
	flag := s.s[0]
	if flag == '7' {
		return l.text(name, s.from(1), 1, maxLot)
	}
	layout, ok := dateLayouts[flag]
	if !ok {
		return &Error{Position: s.at, AI: "end", Reason: message.M("wrong date format")}
	}
	if flag != '0' && flag != '1' { // those two are the month's first digit
		s = s.from(1)
	}
	rest, err := l.date("end", layout, s)
	if err != nil {
		return err
	}
	return l.text(name, rest, 0, maxLot)
}

// quantitySize is the number of digits after the flags 8 and 9; else 0.
func quantitySize(s string) int {
	switch {
	case strings.HasPrefix(s, "8"):
		return 2
	case strings.HasPrefix(s, "9"):
		return maxQuantity
	}
	return 0
}

// supplement reads a supplement and tells whether p is one.
func (l *label) supplement(p segment, last bool) (bool, *Error) {
	switch {
	case strings.HasPrefix(p.s, "14D"), strings.HasPrefix(p.s, "16D"):
		rest, err := l.date(p.s[:3], "YYYYMMDD", p.from(3))
		if err == nil && rest.s != "" {
			err = &Error{Position: rest.at, AI: p.s[:3], Reason: message.M("too long")}
		}
		return true, err
	case strings.HasPrefix(p.s, "S"):
		return true, l.text("S", p.from(1), 1, maxLot)
	case strings.HasPrefix(p.s, "Q"):
		if !last {
			return true, &Error{Position: p.at, AI: "Q", Reason: message.M("quantity must come last")}
		}
		rest, err := l.quantity("Q", p.from(1), 1, maxQuantity)
		if err == nil && rest.s != "" {
			err = &Error{Position: rest.at, AI: "Q", Reason: message.M("too long")}
		}
		return true, err
	}
	return false, nil
}

// from cuts off the first n bytes.
func (s segment) from(n int) segment { return segment{s.s[n:], s.at + n} }
