package inventory

import (
	"fmt"
	"time"
)

// Day is a calendar date without a clock time or a zone. The zero Day means "no day". Days compare with < and >, and
// subtract to a number of days. The range is 1900-01-01 to 2199-12-31.
type Day int32

// dayZero is the Unix day number of the day before 0001-01-01, so that
// 0001-01-01 is Day 1 and the zero Day stays free for "none".
const dayZero = -719163

// NewDay returns the day, or an error when no such date exists or it lies
// outside the range. It never rolls a date over.
func NewDay(year int, month time.Month, day int) (Day, error) {
	if year < 1900 || year > 2199 {
		return 0, fmt.Errorf("year must be between 1900 and 2199")
	}
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if t.Year() != year || t.Month() != month || t.Day() != day {
		return 0, fmt.Errorf("no such date")
	}
	return dayOf(t), nil
}

// MustDay parses a day as ParseDay does and panics on an error. It is for tests and constants.
func MustDay(s string) Day {
	d, err := ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// ParseDay reads YYYY-MM-DD.
func ParseDay(s string) (Day, error) {
	y, m, d, ok := splitDate(s, 10)
	if !ok {
		return 0, fmt.Errorf("write a day as YYYY-MM-DD")
	}
	return NewDay(y, time.Month(m), d)
}

// splitDate reads YYYY-MM-DD (n = 10) or YYYY-MM (n = 7) digit by digit, since
// scanning functions accept signs and blanks.
func splitDate(s string, n int) (y, m, d int, ok bool) {
	if len(s) != n {
		return 0, 0, 0, false
	}
	for i := range n {
		dash := i == 4 || i == 7
		if dash != (s[i] == '-') || !dash && (s[i] < '0' || s[i] > '9') {
			return 0, 0, 0, false
		}
	}
	num := func(t string) (v int) {
		for _, c := range []byte(t) {
			v = v*10 + int(c-'0')
		}
		return v
	}
	y, m = num(s[:4]), num(s[5:7])
	if n == 10 {
		d = num(s[8:])
	}
	return y, m, d, true
}

func dayOf(t time.Time) Day { return Day(t.Unix()/86400 - dayZero) } // #nosec G115 -- years 1 to 9999

func (d Day) time() time.Time {
	return time.Unix((int64(d)+dayZero)*86400, 0).UTC()
}

// Date returns the parts of the day.
func (d Day) Date() (year int, month time.Month, day int) { return d.time().Date() }

// String is YYYY-MM-DD, or the empty string for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.time().Format(time.DateOnly)
}

// Text is the day as people read it in English, 2 Jan 2027; empty for no day.
func (d Day) Text() string {
	if d == 0 {
		return ""
	}
	return d.time().Format("2 Jan 2006")
}

// MarshalText writes YYYY-MM-DD.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads YYYY-MM-DD; the empty text is no day.
func (d *Day) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = 0
		return nil
	}
	v, err := ParseDay(string(b))
	*d = v
	return err
}

// AddDays returns the day n days later (earlier for negative n).
func (d Day) AddDays(n int) Day { return d + Day(n) } // #nosec G115 -- inputs are of at most a century

// AddMonths returns the same day of the month n months later, or the last day of that month where it has no such day.
// Add all months to the first date: two steps of one month may differ from one step of two.
func (d Day) AddMonths(n int) Day {
	y, m, day := d.Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return dayOf(first) + Day(min(day, last)-1) // #nosec G115 -- of a month
}

// EndOfMonth returns the last day of the month that d lies in.
func (d Day) EndOfMonth() Day {
	y, m, _ := d.Date()
	return dayOf(time.Date(y, m+1, 0, 0, 0, 0, 0, time.UTC))
}
