package history_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/inventorytest"
)

func TestClockCheck(t *testing.T) {
	now := inventorytest.At("2026-11-25T12:00:00Z")
	for ahead, want := range map[time.Duration][2]bool{ // warns, stops
		-time.Hour: {}, 0: {}, time.Minute: {}, time.Minute + time.Microsecond: {true}, 24 * time.Hour: {true},
		24*time.Hour + time.Microsecond: {true, true}, 10 * 365 * 24 * time.Hour: {true, true},
	} {
		c := history.ClockCheck{Now: now, Newest: now.Add(ahead)}
		assert.Equal(t, want, [2]bool{c.Warns(), c.Err() != nil}, ahead)
		assert.Equal(t, want[1], inventory.ClockJumped(c.Newest, now), ahead)
	}
	assert.False(t, history.ClockCheck{Now: now}.Warns(), "of a service without records")
	assert.ErrorContains(t, history.ClockCheck{Now: inventorytest.At("2016-01-02T00:00:00Z"), Newest: now}.Err(),
		"clock says 2016-01-02, its newest record is of 2026-11-25")
}
