package rotation_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/rotation"
)

// held counts what lies at each place at first.
func held(places []rotation.Place, batches []rotation.Batch) []int {
	out := make([]int, len(places))
	for p := range places {
		out[p] = places[p].Other
	}
	for _, b := range batches {
		out[b.Place] += b.Qty
	}
	return out
}

func sum(all []int) int {
	out := 0
	for _, n := range all {
		out += n
	}
	return out
}

// moved counts the units of a plan that are in another place in the end.
func moved(p rotation.Plan) int {
	out := 0
	for _, m := range p.Moves {
		out += m.Qty
	}
	return out
}

func lent(s rotation.Step) bool { return s.Lent }

// carry carries a plan out, step by step, and sees that no place is below par at any time, that nobody gives what is
// not there, that what was lent comes back and what is used in the end is what the plan says.
func carry(t require.TestingT, places []rotation.Place, batches []rotation.Batch, plan rotation.Plan) {
	at := make([][]int, len(batches)+1) // by batch and place; the last is others
	for i := range at {
		at[i] = make([]int, len(places))
	}
	for i, b := range batches {
		at[i][b.Place] = b.Qty
	}
	for p := range places {
		at[len(batches)][p] = places[p].Other
	}
	now, owed := held(places, batches), make([]int, len(places))
	before := slices.Clone(now)
	done := map[rotation.Move]int{}
	for _, s := range plan.Steps {
		require.Positive(t, s.Qty)
		require.NotEqual(t, s.From, s.To)
		now[s.From] -= s.Qty
		now[s.To] += s.Qty
		require.GreaterOrEqual(t, now[s.From], min(places[s.From].Par, before[s.From]), "%+v of %+v", s, plan)
		if s.Lent {
			owed[s.From] -= s.Qty
			owed[s.To] += s.Qty
			continue
		}
		lot := s.Batch
		if lot == rotation.Others {
			lot = len(batches)
		}
		at[lot][s.From] -= s.Qty
		at[lot][s.To] += s.Qty
		require.GreaterOrEqual(t, at[lot][s.From], 0)
		done[rotation.Move{Batch: s.Batch, From: s.From, To: s.To}] += s.Qty
	}
	for _, m := range plan.Moves {
		done[rotation.Move{Batch: m.Batch, From: m.From, To: m.To}] -= m.Qty
	}
	for m, left := range done {
		require.Zero(t, left, "%+v", m)
	}
	require.Equal(t, make([]int, len(places)), owed)
	used := 0
	for p, place := range places {
		if place.Most > 0 {
			require.LessOrEqual(t, now[p], max(place.Most, before[p]))
		}
		used += usedAt(place.Use, batches, func(i int) int { return at[i][p] })
	}
	require.Equal(t, used, sum(plan.Used))
}

// usedAt counts day by day: through each end date a use takes the unit that ends first and has not ended.
func usedAt(use []int, batches []rotation.Batch, here func(int) int) int {
	left := make([]int, len(use))
	for i, b := range batches {
		left[b.End] += here(i)
	}
	used, before := 0, 0
	for day, through := range use {
		for range through - before {
			for e := day; e < len(left); e++ {
				if left[e] > 0 {
					left[e]--
					used++
					break
				}
			}
		}
		before = through
	}
	return used
}

func TestPlans(t *testing.T) {
	type place = rotation.Place
	type batch = rotation.Batch
	for _, c := range []struct {
		name    string
		places  []place
		batches []batch
		want    []rotation.Move
		lent    bool
		used    []int
		unless  []int
	}{
		{"nothing at all", nil, nil, nil, false, []int{}, []int{}},
		{"used where it is", []place{{Par: 0, Use: []int{2}}}, []batch{{0, 0, 5}}, nil, false, []int{2}, []int{2}},
		{"from a store to where it is used", []place{{Use: []int{0}}, {Use: []int{3}}}, []batch{{0, 0, 5}},
			[]rotation.Move{{Batch: 0, From: 0, To: 1, Qty: 3}}, false, []int{3}, []int{0}},
		{"two bags at par exchange only if nobody has one to give",
			[]place{{Par: 1, Use: []int{0}}, {Par: 1, Use: []int{1}, Other: 1}, {Other: 1, Use: []int{0}}},
			[]batch{{0, 0, 1}},
			[]rotation.Move{{Batch: 0, From: 0, To: 1, Qty: 1}, {Batch: rotation.Others, From: 2, To: 0, Qty: 1}},
			false, []int{1}, []int{0}},
		{"a bag at par waits for another unit in its stead",
			[]place{{Par: 2, Use: []int{0}}, {Use: []int{1}, Other: 1}}, []batch{{0, 0, 2}},
			[]rotation.Move{{Batch: 0, From: 0, To: 1, Qty: 1}, {Batch: rotation.Others, From: 1, To: 0, Qty: 1}},
			false, []int{1}, []int{0}},
		{"nobody has any to spare", []place{{Par: 2, Use: []int{0}}, {Par: 1, Use: []int{1}, Other: 1}},
			[]batch{{0, 0, 2}}, nil, false, []int{0}, []int{0}},
		{"two bags at par exchange, and a store lends",
			[]place{{Par: 1, Use: []int{0}}, {Par: 1, Most: 1, Use: []int{1}, Other: 1}, {Other: 1, Use: []int{0}}},
			[]batch{{0, 0, 1}},
			[]rotation.Move{{Batch: 0, From: 0, To: 1, Qty: 1}, {Batch: rotation.Others, From: 1, To: 0, Qty: 1}},
			true, []int{1}, []int{0}},
		{"below par nothing leaves", []place{{Par: 5, Use: []int{0}}, {Use: []int{9}}}, []batch{{0, 0, 4}}, nil, false,
			[]int{0}, []int{0}},
		{"a full bag takes one for one", []place{{Use: []int{0}}, {Par: 1, Most: 1, Other: 1, Use: []int{1}}},
			[]batch{{0, 0, 1}},
			[]rotation.Move{{Batch: 0, From: 0, To: 1, Qty: 1}, {Batch: rotation.Others, From: 1, To: 0, Qty: 1}},
			false, []int{1}, []int{0}},
		{"batches share the use", []place{{Use: []int{1, 3}}}, []batch{{0, 0, 2}, {0, 1, 4}}, nil, false,
			[]int{1, 2}, []int{1, 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			plan := rotation.Best(c.places, c.batches)
			assert.Equal(t, c.unless, plan.Unless)
			assert.Equal(t, c.used, plan.Used)
			assert.ElementsMatch(t, c.want, plan.Moves)
			assert.Equal(t, c.lent, slices.ContainsFunc(plan.Steps, lent))
			carry(t, c.places, c.batches, plan)
		})
	}
}

// small makes a case that can be tried out whole.
func small(rnd *rand.Rand) ([]rotation.Place, []rotation.Batch) {
	places := make([]rotation.Place, 2+rnd.IntN(2))
	ends := 1 + rnd.IntN(3)
	var batches []rotation.Batch
	for left := 1 + rnd.IntN(4); left > 0; {
		b := rotation.Batch{Place: rnd.IntN(len(places)), End: rnd.IntN(ends), Qty: 1 + rnd.IntN(left)}
		batches, left = append(batches, b), left-b.Qty
	}
	for p := range places {
		places[p].Other, places[p].Use = rnd.IntN(3), make([]int, ends)
		n := 0
		for e := range ends {
			n += rnd.IntN(2)
			places[p].Use[e] = n
		}
	}
	for p, n := range held(places, batches) {
		places[p].Par = max(0, n-[]int{0, 0, 0, 0, 1, -1, 9}[rnd.IntN(7)])
		places[p].Most = []int{0, 0, n, n + 1, 1}[rnd.IntN(5)]
	}
	return places, batches
}

// tried tries every order of moving any one unit to any place, as long as no place falls below par, and returns the
// most units used, and the fewest units elsewhere than at first, among all states that such an order reaches and in
// which all short-dated units that came to a place can be used there.
func tried(places []rotation.Place, batches []rotation.Batch) (used, away int) {
	type state struct {
		unit  [4]int8 // the place of each short-dated unit
		other [3]int8 // others by place
	}
	var first state
	var ends [4]int
	n := 0
	for _, b := range batches {
		for range b.Qty {
			first.unit[n], ends[n] = int8(b.Place), b.End
			n++
		}
	}
	for p := range places {
		first.other[p] = int8(places[p].Other)
	}
	count := func(s state) []int {
		out := make([]int, len(places))
		for p := range places {
			out[p] = int(s.other[p])
		}
		for i := range n {
			out[s.unit[i]]++
		}
		return out
	}
	before := count(first)
	seen := map[state]bool{first: true}
	used, away = -1, 0
	for queue := []state{first}; len(queue) > 0; queue = queue[1:] {
		s := queue[0]
		now := count(s)
		if u, a, ok := judged(places, ends[:n], first.unit[:], s.unit[:]); ok {
			for p := range places {
				a += max(0, int(first.other[p]-s.other[p]))
				ok = ok && (places[p].Most == 0 || now[p] <= max(places[p].Most, before[p]))
			}
			if ok && (u > used || u == used && a < away) {
				used, away = u, a
			}
		}
		reach := func(to state) {
			if !seen[to] {
				seen[to] = true
				queue = append(queue, to)
			}
		}
		for p := range places {
			if now[p] <= min(places[p].Par, before[p]) {
				continue
			}
			for q := range places {
				if s.other[p] > 0 {
					to := s
					to.other[p]--
					to.other[q]++
					reach(to)
				}
				for i := range n {
					if int(s.unit[i]) == p {
						to := s
						to.unit[i] = int8(q)
						reach(to)
					}
				}
			}
		}
	}
	return used, away
}

// judged counts used and moved short-dated units of a state, and tells whether all that came can be used.
func judged(places []rotation.Place, ends []int, first, now []int8) (used, away int, ok bool) {
	for p, place := range places {
		var all, came []rotation.Batch
		for i, end := range ends {
			if int(now[i]) == p {
				all = append(all, rotation.Batch{End: end})
				if first[i] != now[i] {
					came = append(came, rotation.Batch{End: end})
				}
			}
		}
		one := func(int) int { return 1 }
		if usedAt(place.Use, came, one) < len(came) {
			return 0, 0, false
		}
		used += usedAt(place.Use, all, one)
		away += len(came)
	}
	return used, away, true
}

// TestEqualsTryingAll: on 2,000 small cases the plan is as good as the best of all that legal moves reach.
func TestEqualsTryingAll(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 6))
	better, lends := 0, 0
	for i := range 2000 {
		places, batches := small(rnd)
		plan := rotation.Best(places, batches)
		used, away := tried(places, batches)
		require.Equal(t, []int{used, away}, []int{sum(plan.Used), moved(plan)}, "case %d: %+v %+v", i, places, batches)
		carry(t, places, batches, plan)
		if used > sum(plan.Unless) {
			better++
		}
		if slices.ContainsFunc(plan.Steps, lent) {
			lends++
		}
	}
	assert.Greater(t, better, 400, "cases in which something can be saved")
	assert.Greater(t, lends, 10, "cases in which a unit is lent")
}
