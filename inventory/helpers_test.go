package inventory_test

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// raced tells whether the race detector is on, which makes each step dear.
var raced bool

// day reads a day in a test table; the empty text is no day.
func day(s string) inventory.Day {
	if s == "" {
		return 0
	}
	return inventory.MustDay(s)
}

// readTestdata fills v from a file of the top folder testdata.
func readTestdata(t *testing.T, name string, v any) {
	t.Helper()
	b, err := os.ReadFile("../testdata/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, v))
}

// skipUnlessForced skips a test that lacks something outside, unless nothing
// may be skipped.
func skipUnlessForced(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// at reads an instant in a test table.
func at(s string) inventory.Instant {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		panic(err)
	}
	return inventory.InstantOf(t)
}

func zone(t require.TestingT, name string) *time.Location {
	z, err := inventory.Zone(name)
	require.NoError(t, err)
	return z
}

// lengthOfMonth is the Gregorian calendar, written out.
func lengthOfMonth(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}
