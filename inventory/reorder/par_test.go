package reorder_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/reorder"
)

// uses repeats what was used at an incident so and so often: never, once, twice …
func uses(often ...int) []int {
	var out []int
	for units, n := range often {
		for range n {
			out = append(out, units)
		}
	}
	return out
}

func TestPars(t *testing.T) {
	for _, c := range []struct {
		name string
		bag  reorder.Bag
		risk float64
		want reorder.Advice
	}{
		{"19 incidents say nothing", reorder.Bag{Uses: uses(9, 10), Minimum: 2}, 0.05, reorder.Advice{}},
		{"restocked at once: one incident must not go below the minimum",
			reorder.Bag{Uses: uses(10, 6, 4), Minimum: 1, Par: 2}, 0.05, reorder.Advice{Known: true, Par: 3, Today: 0.2}},
		{"as much risk as was chosen", reorder.Bag{Uses: uses(10, 6, 4), Minimum: 1, Par: 1}, 0.2,
			reorder.Advice{Known: true, Par: 2, Risk: 0.2, Today: 0.5}},
		{"never used", reorder.Bag{Uses: uses(25), Incidents: 3, Minimum: 2, Par: 4}, 0.05,
			reorder.Advice{Known: true, Par: 2}},
		{"a published list asks for more", reorder.Bag{Uses: uses(25), Minimum: 2, Published: 5, Par: 4}, 0.05,
			reorder.Advice{Known: true, Par: 5}},
		{"today's par is below the minimum", reorder.Bag{Uses: uses(20), Minimum: 3, Par: 2}, 0.05,
			reorder.Advice{Known: true, Par: 3, Today: 1}},
		{"others before it is restocked: 1 and Poisson of 1, at most 4 by 98.1 %",
			reorder.Bag{Uses: uses(0, 20), Incidents: 1, Minimum: 2, Par: 3}, 0.05,
			reorder.Advice{Known: true, Par: 6, Risk: 1 - 8.0/3/math.E, Today: 1 - 1/math.E}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := reorder.ParFor(c.bag, c.risk)
			assert.InDelta(t, c.want.Risk, got.Risk, 1e-12)
			assert.InDelta(t, c.want.Today, got.Today, 1e-12)
			got.Risk, got.Today, c.want.Risk, c.want.Today = 0, 0, 0, 0
			assert.Equal(t, c.want, got)
		})
	}
	most := reorder.Bag{Uses: uses(0, 20), Incidents: 1e9}
	assert.Greater(t, reorder.ParFor(most, 0).Par, 500)
}

// TestParsEqualCounting: the chances are those of counting every number of other incidents and every use of each.
func TestParsEqualCounting(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 13))
	for range 200 {
		bag := reorder.Bag{Uses: uses(rnd.IntN(20), 1+rnd.IntN(20), rnd.IntN(9), rnd.IntN(4)), Incidents: 4 * rnd.Float64(),
			Minimum: rnd.IntN(3), Par: rnd.IntN(14), Published: rnd.IntN(4)}
		if len(bag.Uses) < reorder.Enough {
			continue
		}
		const top = 60 // more units than can matter
		one, now, all := make([]float64, top), make([]float64, top), make([]float64, top)
		for _, n := range bag.Uses {
			one[n] += 1 / float64(len(bag.Uses))
		}
		copy(now, one)
		chance := math.Exp(-bag.Incidents)
		for others := range 40 {
			next := make([]float64, top)
			for k, p := range now {
				all[k] += chance * p
				for j, q := range one[:min(len(one), top-k)] {
					next[k+j] += p * q
				}
			}
			chance *= bag.Incidents / float64(others+1)
			now = next
		}
		below := func(par int) float64 {
			p := 1.0
			for k := 0; k <= par-bag.Minimum; k++ {
				p -= all[k]
			}
			return p
		}
		risk := 0.001 + 0.2*rnd.Float64()
		got := reorder.ParFor(bag, risk)
		require.InDelta(t, below(got.Par), got.Risk, 1e-9)
		require.InDelta(t, below(bag.Par), got.Today, 1e-9)
		require.LessOrEqual(t, got.Risk, risk)
		if got.Par > max(bag.Minimum, bag.Published) {
			require.Greater(t, below(got.Par-1), risk)
		} else {
			require.Equal(t, max(bag.Minimum, bag.Published), got.Par)
		}
	}
}
