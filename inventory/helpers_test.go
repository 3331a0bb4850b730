package inventory_test

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// skipUnlessForced skips a test that lacks something outside, unless nothing
// may be skipped.
func skipUnlessForced(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
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
