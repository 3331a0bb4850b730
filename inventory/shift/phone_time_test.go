package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

func TestDoneByPhone(t *testing.T) {
	now := inventory.InstantOf(time.Date(2027, 6, 14, 12, 0, 0, 0, time.UTC))
	ago := func(d time.Duration) inventory.Instant { return now.Add(-d) }
	for _, x := range []struct {
		what             string
		done, sent, want inventory.Instant
	}{
		{"no word", 0, now, 0},
		{"right clock", ago(3 * time.Hour), now, ago(3 * time.Hour)},
		{"a little fast", ago(time.Hour), now.Add(4 * time.Minute), ago(time.Hour)},
		{"a little fast, sent at once", now.Add(4 * time.Minute), now.Add(4 * time.Minute), now},
		{"two hours fast", ago(time.Hour), now.Add(2 * time.Hour), ago(3 * time.Hour)},
		{"two hours slow", ago(3 * time.Hour), ago(2 * time.Hour), ago(time.Hour)},
		{"clock not told", ago(time.Hour), 0, ago(time.Hour)},
		{"set right while it waited: too late by its word", now.Add(24 * time.Hour), now, now},
		{"before there were phones", inventory.InstantOf(time.Date(1880, 1, 1, 0, 0, 0, 0, time.UTC)), now, now},
	} {
		assert.Equal(t, x.want, shift.DoneByPhone(x.done, x.sent, now), x.what)
	}
}
