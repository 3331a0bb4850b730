package inventory

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestDoneByPhone(t *testing.T) {
	now := InstantOf(time.Date(2027, 6, 14, 12, 0, 0, 0, time.UTC))
	ago := func(d time.Duration) Instant { return now.Add(-d) }
	for _, x := range []struct {
		what             string
		done, sent, want Instant
	}{
		{"no word", 0, now, 0},
		{"right clock", ago(3 * time.Hour), now, ago(3 * time.Hour)},
		{"a little fast", ago(time.Hour), now.Add(4 * time.Minute), ago(time.Hour)},
		{"a little fast, sent at once", now.Add(4 * time.Minute), now.Add(4 * time.Minute), now},
		{"two hours fast", ago(time.Hour), now.Add(2 * time.Hour), ago(3 * time.Hour)},
		{"two hours slow", ago(3 * time.Hour), ago(2 * time.Hour), ago(time.Hour)},
		{"clock not told", ago(time.Hour), 0, ago(time.Hour)},
		{"set right while it waited: too late by its word", now.Add(24 * time.Hour), now, now},
		{"before there were phones", InstantOf(time.Date(1880, 1, 1, 0, 0, 0, 0, time.UTC)), now, now},
	} {
		assert.Equal(t, x.want, DoneByPhone(x.done, x.sent, now), x.what)
	}
}
