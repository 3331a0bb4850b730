package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestGlance: a glance says what the long reading and the report say, on each day of a year, and nothing changes before
// the day that it names.
func TestGlance(t *testing.T) {
	t.Parallel()
	now := inventorytest.Noon
	may, fills := map[bool]int{}, 0
	for seed := range uint64(12) {
		m := inventorytest.NewMaker(seed)
		g := m.Region(8, 24)
		next, was := make([]inventory.Day, len(g.Bags)), make([]inventory.Glance, len(g.Bags))
		for day := inventorytest.WalkFrom; day < inventorytest.WalkFrom+365; day += 3 {
			var lacks []inventory.Demand
			for i, v := range g.Bags {
				is := inventory.GlanceAt(v, day)
				state := inventory.ReadinessOf(v, now, day, 0).State
				require.Equal(t, state == inventory.Ready || state == inventory.ReadyWithGaps, is.MayGoOut,
					"seed %d, %s on %s", seed, v.Bag.Code, day)
				if day > inventorytest.WalkFrom && (next[i] == 0 || day < next[i]) {
					require.Equal(t, was[i].MayGoOut, is.MayGoOut, "seed %d, %s on %s", seed, v.Bag.Code, day)
					require.Len(t, is.Lacks, len(was[i].Lacks), "seed %d, %s on %s", seed, v.Bag.Code, day)
				}
				next[i], was[i] = is.Next, is
				lacks = append(lacks, is.Lacks...)
				may[is.MayGoOut]++
			}
			rep := inventory.ShortagesOf(g, now, day, 0)
			fill, buy := inventory.PlanOf(g, lacks, day)
			fills += len(fill)
			require.Equal(t, rep.Fill, append([]inventory.Fill{}, fill...), "seed %d, %s", seed, day)
			require.Equal(t, rep.Buy, append([]inventory.Buy{}, buy...), "seed %d, %s", seed, day)
		}
	}
	assert.Positive(t, may[true])
	assert.Positive(t, may[false])
	assert.Positive(t, fills)
}
