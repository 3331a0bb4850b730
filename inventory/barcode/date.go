package barcode

import (
	"fmt"

	"stowkeeper/inventory/message"
)

// Date is a calendar day, or with Day 0 a month of which no day is printed.
type Date struct {
	Year, Month, Day int
}

// IsZero tells whether no date is set.
func (d Date) IsZero() bool { return d == Date{} }

// Valid tells whether d is a day of the calendar from year 1 on.
func (d Date) Valid() bool {
	return d.Year >= 1 && d.Month >= 1 && d.Month <= 12 && d.Day >= 1 && d.Day <= daysIn(d.Year, d.Month)
}

// String is "2027-06-14", or "2027-06" for a month, or "" for no date.
func (d Date) String() string {
	switch {
	case d.IsZero():
		return ""
	case d.Day == 0:
		return fmt.Sprintf("%04d-%02d", d.Year, d.Month)
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// first is the first day that a printed date may mean.
func (d Date) first() Date {
	if d.Day == 0 && !d.IsZero() {
		d.Day = 1
	}
	return d
}

// last is the last day that a printed date may mean: General Specifications
// section 3.4.5 for day 00; for HIBC months the same, after USP <7>.
func (d Date) last() Date {
	if d.Day == 0 && !d.IsZero() {
		d.Day = daysIn(d.Year, d.Month)
	}
	return d
}

func (d Date) before(e Date) bool {
	if d.Year != e.Year {
		return d.Year < e.Year
	}
	if d.Month != e.Month {
		return d.Month < e.Month
	}
	return d.Day < e.Day
}

func leap(year int) bool {
	return year%4 == 0 && (year%100 != 0 || year%400 == 0)
}

// daysIn counts the days of a month, 1 to 12.
func daysIn(year, month int) int {
	switch month {
	case 2:
		if leap(year) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// dayOfYear turns year and day number, 1 to 365 or 366, into a date; false when the year has no such day.
func dayOfYear(year, n int) (Date, bool) {
	if n < 1 {
		return Date{}, false
	}
	for month := 1; month <= 12; month++ {
		if n <= daysIn(year, month) {
			return Date{year, month, n}, true
		}
		n -= daysIn(year, month)
	}
	return Date{}, false
}

// fullYear gives a two-digit year its century: the one that puts it from 49
// years back to 50 years ahead of today (General Specifications s.7.12).
func fullYear(yy int, today Date) int {
	century := today.Year - today.Year%100
	switch d := yy - today.Year%100; {
	case d >= 51:
		century -= 100
	case d <= -50:
		century += 100
	}
	return century + yy
}

// shortDate reads YYMMDD, six digits. Day 00 is a fault unless monthOnly allows it; the date then has Day 0.
func shortDate(v string, today Date, monthOnly bool) (Date, *fault) {
	return calendarDate(fullYear(number(v[:2]), today), v, 2, monthOnly)
}

// calendarDate reads MMDD at offset i of v, digits, as a day of the year.
func calendarDate(year int, v string, i int, monthOnly bool) (Date, *fault) {
	d := Date{year, number(v[i : i+2]), number(v[i+2 : i+4])}
	switch {
	case d.Month < 1 || d.Month > 12:
		return Date{}, &fault{at: i, reason: message.M("no such day")}
	case d.Day == 0 && !monthOnly:
		return Date{}, &fault{at: i + 2, reason: message.M("no such day")}
	case d.Day > daysIn(d.Year, d.Month):
		return Date{}, &fault{at: i + 2, reason: message.M("no such day")}
	}
	return d, nil
}

// number reads a short run of ASCII digits.
func number(digits string) int {
	n := 0
	for i := 0; i < len(digits); i++ {
		n = 10*n + int(digits[i]-'0')
	}
	return n
}
