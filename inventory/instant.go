package inventory

import (
	"fmt"
	"sync"
	"time"
)

// Instant is a moment in whole microseconds since 1970-01-01T00:00:00Z. The zero Instant means "none". Microseconds
// are what PostgreSQL keeps, so an instant is the same on every engine.
type Instant int64

// Clock tells the present instant. Only the program's main function and tests make one; the rules are given instants.
type Clock func() Instant

// InstantOf truncates t to microseconds.
func InstantOf(t time.Time) Instant { return Instant(t.UnixMicro()) }

// Time returns the instant in UTC.
func (i Instant) Time() time.Time { return time.UnixMicro(int64(i)).UTC() }

// Add returns the instant that lies d later.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d.Microseconds()) }

// Sub returns how long i lies after j.
func (i Instant) Sub(j Instant) time.Duration { return time.Duration(i-j) * time.Microsecond }

const instantLayout = "2006-01-02T15:04:05.999999Z07:00"

// String is RFC 3339 in UTC, or the empty string for none.
func (i Instant) String() string {
	if i == 0 {
		return ""
	}
	return i.Time().Format(instantLayout)
}

// MarshalText writes RFC 3339 in UTC.
func (i Instant) MarshalText() ([]byte, error) { return []byte(i.String()), nil }

// UnmarshalText reads RFC 3339 with any offset; the empty text is none.
func (i *Instant) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*i = 0
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, string(b))
	if err != nil {
		return fmt.Errorf("write an instant as RFC 3339, for example 2027-06-14T07:30:00Z")
	}
	*i = InstantOf(t)
	return nil
}

var zones sync.Map // zone name → *time.Location, since loading one reads a file

// Zone returns the IANA time zone of that name, or an Invalid error.
func Zone(name string) (*time.Location, error) {
	if z, ok := zones.Load(name); ok {
		return z.(*time.Location), nil
	}
	z, err := time.LoadLocation(name)
	if err != nil || name == "" || name == "Local" {
		return nil, InvalidField("timezone", "enter a time zone like Europe/London")
	}
	zones.Store(name, z)
	return z, nil
}

// In returns the calendar day that i falls on in the zone.
func (i Instant) In(zone *time.Location) Day {
	y, m, d := i.Time().In(zone).Date()
	return dayOf(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
}

// InUTC returns the calendar day that the instant falls on in UTC.
func (i Instant) InUTC() Day { return i.In(time.UTC) }

// Start returns the first instant of the day in the zone: midnight, or the
// moment at which the clocks went forward over it.
func (d Day) Start(zone *time.Location) Instant {
	y, m, day := d.Date()
	midnight := time.Date(y, m, day, 0, 0, 0, 0, zone)
	if InstantOf(midnight).In(zone) == d {
		return InstantOf(midnight)
	}
	_, forward := midnight.ZoneBounds()
	return InstantOf(forward)
}

// ClockStopsAfter is how far the clock may be behind the newest record before nothing is recorded or judged any more.
const ClockStopsAfter = 24 * time.Hour

// ClockJumped tells whether a time that the service kept lies further ahead than any it can have kept. Sessions and
// locks do not outlast a clock that was set back.
func ClockJumped(kept, now Instant) bool { return kept > now.Add(ClockStopsAfter) }
