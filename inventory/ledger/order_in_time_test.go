package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
)

func TestInTime(t *testing.T) {
	came := inventorytest.Noon
	for _, c := range []struct {
		before  time.Duration
		decided bool
		want    inventory.Instant
	}{
		{0, false, came}, {-time.Second, false, came.Add(time.Second)}, {time.Second, false, came},
		{5 * time.Minute, false, came}, {5*time.Minute + time.Microsecond, false, 0}, {time.Hour, true, came},
		{-time.Hour, true, came.Add(time.Hour)},
	} {
		got, err := ledger.InTime(came.Add(-c.before), came, c.decided)
		if c.want == 0 {
			inventorytest.RequireKind(t, inventory.Conflict, err)
			continue
		}
		assert.NoError(t, err)
		assert.Equal(t, c.want, got, c.before)
	}
}

// TestEarliestOutProperty: of all instants, it is the first at which units may leave so that no balance falls below
// zero, found out by trying each.
func TestEarliestOutProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var flows []ledger.Flow
		for range rapid.IntRange(0, 7).Draw(t, "rows") {
			f := ledger.Flow{At: inventory.Instant(rapid.IntRange(1, 6).Draw(t, "at")),
				Qty: rapid.IntRange(-3, 4).Draw(t, "qty")}
			if fits(append(flows, f)) {
				flows = append(flows, f)
			}
		}
		qty := rapid.IntRange(1, 4).Draw(t, "leave")
		want, there := inventory.Instant(0), false
		for at := inventory.Instant(7); at >= 1; at-- {
			if fits(append(flows[:len(flows):len(flows)], ledger.Flow{At: at, Qty: -qty})) {
				want, there = at, true
			}
		}
		got, ok := ledger.EarliestOut(flows, qty)
		if ok != there || ok && got != want {
			t.Fatalf("%v, %d leave: %d %t, and it is %d %t", flows, qty, got, ok, want, there)
		}
	})
}

// fits tells whether a balance is never below zero, one instant after another, in the order of recording in each.
func fits(flows []ledger.Flow) bool {
	n := 0
	for at := inventory.Instant(0); at < 10; at++ {
		for _, f := range flows {
			if f.At == at {
				if n += f.Qty; n < 0 {
					return false
				}
			}
		}
	}
	return true
}
