package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// dateLayouts are the forms of the end date by its flag (ANSI/HIBC 2.6 section 2.2.2.1, table 2). Y year, M month, D
// day, J day of the year, H hour; 0 and 1 are no flags but the first digit of the month.
var dateLayouts = map[byte]string{
	'0': "MMYY", '1': "MMYY", '2': "MMDDYY", '3': "YYMMDD",
	'4': "YYMMDDHH", '5': "YYJJJ", '6': "YYJJJHH",
}

// date reads a date of the given layout off the front of s and returns the rest.
func (l *label) date(name, layout string, s segment) (segment, *Error) {
	size := min(len(layout), len(s.s))
	if i := numeric.outside(s.s[:size]); i >= 0 {
		return s, &Error{Position: s.at + i, AI: name, Reason: message.M("character not allowed, {1}", layout)}
	}
	if size < len(layout) {
		return s, &Error{Position: s.at + size, AI: name, Reason: message.M("date too short, {1}", layout)}
	}
	read := s.s[:size]
	day, hour, f := laidOut(layout, read)
	if f != nil {
		return s, &Error{Position: s.at + f.at, AI: name, Reason: f.reason}
	}
	if err := l.add(name, segment{read, s.at}); err != nil {
		return s, err
	}
	if name == "16D" {
		l.facts.MadePrinted, l.facts.MadeOn = day.String(), day
		return s.from(size), nil
	}
	return s.from(size), l.setEnd(name, s.at, day, hour)
}

// laidOut reads digits by a layout: a date, with Day 0 when the layout has no day, and the hour as printed or "".
// Two-digit years are of this century (from memory; the standard's text on it is not at hand).
func laidOut(layout, v string) (Date, string, *fault) {
	digits, at := stretch(layout, v, 'Y')
	year := number(digits)
	if len(digits) == 2 {
		year += 2000
	}
	if year == 0 {
		return Date{}, "", &fault{at: at, reason: message.M("no such day")}
	}
	hours, at := stretch(layout, v, 'H')
	if number(hours) > 23 {
		return Date{}, "", &fault{at: at, reason: message.M("no such time")}
	}
	if days, at := stretch(layout, v, 'J'); days != "" {
		day, ok := dayOfYear(year, number(days))
		return day, hours, unlessAt(at, ok, message.M("no such day"))
	}
	month, at := stretch(layout, v, 'M')
	day, dayAt := stretch(layout, v, 'D')
	date, f := calendarDate(year, month+(day + "00")[:2], 0, day == "")
	if f != nil && f.at > 0 {
		at = dayAt
	}
	if f != nil {
		f.at = at
	}
	return date, hours, f
}

// stretch is the run of v that the letter marks in the layout, and its offset.
func stretch(layout, v string, letter byte) (string, int) {
	first := strings.IndexByte(layout, letter)
	if first < 0 {
		return "", 0
	}
	return v[first : strings.LastIndexByte(layout, letter)+1], first
}

// setEnd notes an end date. A label may state it twice, in the main field and
// as a supplement: then both must agree, and a day refines a month.
func (l *label) setEnd(name string, at int, end Date, hour string) *Error {
	f := &l.facts
	if f.EndPrinted != "" {
		known := f.UsableThrough
		if f.EndPrinted == known.String() && end != known ||
			end.Year != known.Year || end.Month != known.Month {
			return contradiction(name, at)
		}
	}
	f.EndPrinted, f.UsableThrough = end.String(), end.last()
	if hour != "" {
		f.EndTime = f.EndPrinted + "T" + hour + ":00Z" // hours are UTC
		f.Warnings = append(f.Warnings, clockTimeWarning(name, at))
	}
	return nil
}

// text reads all of s as a lot or serial number.
func (l *label) text(name string, s segment, shortest, longest int) *Error {
	if i := hibcLot.outside(s.s); i >= 0 {
		return &Error{Position: s.at + i, AI: name, Reason: hibcLot.only}
	}
	if len(s.s) < shortest {
		return &Error{Position: s.at, AI: name, Reason: message.M("no data")}
	}
	if len(s.s) > longest {
		return &Error{Position: s.at + longest, AI: name, Reason: message.M("too long")}
	}
	if s.s == "" {
		return nil
	}
	if name == "lot" {
		l.facts.BatchNo = s.s
	} else if l.facts.Serial == "" {
		l.facts.Serial = s.s
	} else if l.facts.Serial != s.s {
		return contradiction(name, s.at)
	}
	return l.add(name, s)
}

// quantity reads digits off the front of s, as many as there are up to longest, and returns the rest.
func (l *label) quantity(name string, s segment, shortest, longest int) (segment, *Error) {
	size := min(longest, len(s.s))
	read := segment{s.s[:size], s.at}
	if i := numeric.outside(read.s); i >= 0 {
		return s, &Error{Position: s.at + i, AI: name, Reason: message.M("character not allowed")}
	}
	if size < shortest {
		return s, &Error{Position: s.at + size, AI: name, Reason: message.M("too short")}
	}
	if l.facts.Qty != 0 && l.facts.Qty != number(read.s) {
		return s, contradiction(name, s.at)
	}
	l.facts.Qty = number(read.s)
	return s.from(size), l.add(name, read)
}

// add notes a field as read.
func (l *label) add(name string, s segment) *Error {
	if old, ok := l.facts.Elements[name]; ok && old != s.s {
		return contradiction(name, s.at)
	}
	l.facts.Elements[name] = s.s
	l.facts.Ordered = append(l.facts.Ordered, Element{name, HIBCFields[name], s.s, s.at})
	return nil
}

func contradiction(name string, at int) *Error {
	return &Error{Position: at, AI: name, Reason: twice}
}
