package exchange

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// DayOrder says which comes first where a date is written in numbers alone.
type DayOrder string

// The orders; none is chosen where it is empty.
const (
	DayFirst   DayOrder = "day-first"
	MonthFirst DayOrder = "month-first"
)

// DateWritten brings a date as people write it (06/2028, 30.06.2028, Jun 2028, 30/06/28) to the form YYYY-MM or
// YYYY-MM-DD. What it cannot read it returns as it is. unclear tells that it depends on which comes first, day or
// month, and that none was chosen or the other one was; a year of two digits is one of this century, and makes a date
// in numbers alone unclear unless an order was chosen.
func DateWritten(text string, order DayOrder) (date string, unclear bool) {
	parts := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ./-,", r) })
	var n [3]int
	named := -1
	for i, p := range parts {
		if i > 2 {
			return text, false
		}
		if n[i] = monthNamed(p); n[i] > 0 && named < 0 {
			named = i
		} else if n[i] = digits(p); n[i] < 0 {
			return text, false
		}
	}
	switch {
	case len(parts) < 2:
	case len(parts[0]) == 4 && named != 0:
		return joinDate(n[0], n[1], n[2], len(parts)), false
	case len(parts) == 2 && len(parts[1]) == 4:
		return joinDate(n[1], n[0], 0, 2), false
	case len(parts) == 2 || len(parts[2]) != 4 && len(parts[2]) != 2:
	case named == 0:
		return joinDate(century(n[2]), n[0], n[1], 3), false
	case named == 1:
		return joinDate(century(n[2]), n[1], n[0], 3), false
	case named < 0:
		return numbersAlone(n[0], n[1], n[2], order)
	}
	return text, false
}

func numbersAlone(a, b, year int, order DayOrder) (date string, unclear bool) {
	if order == "" && year > 99 && a != b {
		switch { // more than 12 is no month
		case a > 12:
			order = DayFirst
		case b > 12:
			order = MonthFirst
		}
	}
	day, month := a, b
	if order == MonthFirst {
		day, month = b, a
	}
	return joinDate(century(year), month, day, 3), order == "" && (year <= 99 || a != b) || month > 12 && day <= 12
}

func century(year int) int {
	if year < 100 {
		year += 2000
	}
	return year
}

func joinDate(year, month, day, parts int) string {
	if parts == 2 {
		return fmt.Sprintf("%04d-%02d", year, month)
	}
	return fmt.Sprintf("%04d-%02d-%02d", year, month, day)
}

// monthNamed is the month that an English name or its first three letters mean, 0 for none.
func monthNamed(s string) int {
	s = strings.ToLower(s)
	for m := time.January; m <= time.December; m++ {
		if name := strings.ToLower(m.String()); s == name || s == name[:3] || s == "sept" && m == time.September {
			return int(m)
		}
	}
	return 0
}

// digits reads up to four digits, -1 for anything else.
func digits(s string) int {
	if len(s) > 4 || strings.Trim(s, "0123456789") != "" {
		return -1
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}
