package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestKeptHolds: what a bag was judged to be stays true, hour by hour, until the instant that is kept with it, as long
// as nothing is recorded; and there, where the instant is near, it is judged anew and kept until a later one.
func TestKeptHolds(t *testing.T) {
	t.Parallel()
	m := inventorytest.NewMaker(11)
	turns, long := 0, 0
	for range 120 {
		g := m.Region(6, 4)
		for _, v := range g.Bags {
			now := inventorytest.WalkFrom.AddDays(m.IntN(300)).Start(inventorytest.UtcZone).
				Add(time.Duration(m.IntN(24*60)) * time.Minute)
			end := now.Add(40 * 24 * time.Hour)
			for k := inventory.Keep(v, now); k.Until < end; k = inventory.Keep(v, k.Until) {
				require.Greater(t, k.Until, k.At, v.Bag.Code)
				turns++
				if k.Until.Sub(k.At) > 72*time.Hour {
					long++
				}
				for at := k.At; at < k.Until; at = at.Add(3 * time.Hour) {
					requireKept(t, v, k, at)
				}
				requireKept(t, v, k, k.Until-1)
			}
		}
	}
	require.Greater(t, turns, 500)
	require.Greater(t, long, 90, "kept for days where nothing falls due")
}

func requireKept(t *testing.T, v inventory.BagView, k inventory.Kept, at inventory.Instant) {
	t.Helper()
	j, _ := inventory.Judge(v, at, 0, inventory.DefaultHorizonDays)
	require.Equal(t, k.Judged, j, "%s at %s, kept at %s until %s", v.Bag.Code, at, k.At, k.Until)
}
