package shift

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// Hours since an invented noon, for tables.
func hoursAt(hours ...int) []inventory.Instant {
	noon := inventory.InstantOf(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC))
	var out []inventory.Instant
	for _, h := range hours {
		out = append(out, noon.Add(time.Duration(h)*time.Hour))
	}
	return out
}

func TestLooksBetween(t *testing.T) {
	for name, c := range map[string]struct {
		looks        []int
		done, missed int
	}{
		"none yet":                      {nil, 0, 0},
		"each on time":                  {[]int{-10, 14, 38, 62, 86}, 4, 0},
		"at the due time itself":        {[]int{-24, 0, 24, 48, 72, 96}, 5, 0},
		"one late":                      {[]int{-10, 20, 44, 68, 92}, 4, 1},
		"long before, then none":        {[]int{-50}, 0, 4}, // due at 22, 46, 70, 94 in the time, and before it
		"first look within":             {[]int{90}, 1, 0},
		"a day and a half without":      {[]int{-2, 46, 70, 94}, 3, 1},
		"two in a row, then none again": {[]int{-2, 10, 11}, 2, 3},
	} {
		s := hoursAt(0, 96)
		got := LooksBetween(hoursAt(c.looks...), sealDue(24), s[0], s[1])
		done, missed := len(got.Made), len(got.Missed)
		assert.Equal(t, []int{c.done, c.missed}, []int{done, missed}, name)
	}
}

// A full check is due by the end of a day at the station, also over a change
// of the clocks.
func TestFullDue(t *testing.T) {
	zone, err := inventory.Zone("Europe/London")
	require.NoError(t, err)
	due := fullDue(7, zone)
	look := inventory.InstantOf(time.Date(2026, 3, 25, 10, 0, 0, 0, time.UTC)) // clocks go forward on the 29th
	first := due(look)
	assert.Equal(t, "2026-04-01T23:00:00Z", first.String(), "the end of 1 April, summer time")
	assert.Equal(t, "2026-04-08T23:00:00Z", due(first).String(), "a week after the due day")
	assert.Equal(t, first, due(inventory.MustDay("2026-03-25").Start(zone).Add(time.Minute)), "whatever the hour")
}
