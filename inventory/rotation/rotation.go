// Package rotation finds the moves between places by which the most short-dated units of an item are used before they
// end, and of these plans one that moves the fewest units. It knows nothing of items or days: end dates are numbered
// from the earliest, and what a place uses is given.
package rotation

import "slices"

// Place is where units of the item are. All are of one item, may be moved, and serve anywhere.
type Place struct {
	Par   int // units that it must hold at every moment; where it holds fewer, no fewer than it has
	Most  int // units that it may hold in the end, or 0 for any number; where it holds more, no more than it has
	Other int // units there that are not short-dated
	// Use holds for each end date how many units will be used here by the end of that day, counted from now: it never
	// falls. The batches here share it: each use can take a unit that ends on its day or later.
	Use []int
}

// Batch is short-dated units at a place.
type Batch struct {
	Place int // by its number
	End   int // the number of its end date: 0 is the earliest, and below len(Use)
	Qty   int // units, 0 or more
}

// Others stands in a move for units that are not short-dated, which make good what a place gives.
const Others = -1

// Move brings units to another place: short-dated ones to where they will be used, or others in their stead.
type Move struct {
	Batch         int // by its number, or Others
	From, To, Qty int
}

// Step is a move, or a part of one, in an order in which no place is below par at any time. Where places that hold
// just their par exchange units among them, others lend them units first, any units, and have them back at the end.
type Step struct {
	Move
	Lent bool // to be given back, or given back; Batch says nothing then
}

// Plan is the best that can be done.
type Plan struct {
	Moves  []Move
	Steps  []Step
	Used   []int // by batch, how many of its units are used before they end
	Unless []int // the same where nothing is moved
}

// Best finds a plan under which the most units are used before they end, and of these one under which the fewest units
// are in another place in the end; exactly. It never refuses; where every place holds just its par, nothing can move.
func Best(places []Place, batches []Batch) Plan {
	plan := Plan{Used: make([]int, len(batches)), Unless: unmoved(places, batches)}
	spare, total := make([]int, len(places)), 0
	for p, place := range places {
		spare[p] = place.Other
	}
	for _, b := range batches {
		spare[b.Place] += b.Qty
	}
	held, sum := slices.Clone(spare), 0
	for p := range places {
		total += held[p]
		spare[p] = max(0, held[p]-places[p].Par)
		sum += spare[p]
	}
	if sum == 0 {
		copy(plan.Used, plan.Unless)
		return plan
	}
	m := newModel(places, batches, held, spare, total)
	if !m.net.solve() {
		panic("rotation: all units can stay where they are, so there is a flow")
	}
	m.read(&plan)
	plan.Steps = order(spare, plan.Moves)
	return plan
}

// unmoved tells of each batch how many units are used where it is: what ends first is used first.
func unmoved(places []Place, batches []Batch) []int {
	used, sofar := make([]int, len(batches)), make([]int, len(places))
	byEnd := make([]int, len(batches))
	for i := range byEnd {
		byEnd[i] = i
	}
	slices.SortStableFunc(byEnd, func(a, b int) int { return batches[a].End - batches[b].End })
	for _, i := range byEnd {
		b := batches[i]
		used[i] = max(0, min(b.Qty, places[b.Place].Use[b.End]-sofar[b.Place]))
		sofar[b.Place] += used[i]
	}
	return used
}

// model is the question as a flow of all units to the place where each is in the end. A short-dated unit goes to the
// uses of a place from its end date back to now: at its own place, or, moved, through a node that all moved units of
// its end date share; or it stays and is not used. Every use pays more than all moves cost; of equal plans that one is
// taken in which fewer others come from where none is to spare, so that less has to be lent.
type model struct {
	net         network
	batches     []Batch
	ends        int
	idle, moved []int    // by batch, the arcs of what stays unused and of what leaves
	come        []useArc // moved units that are used, the latest use first
	give, get   []int    // by place, the arcs of other units that leave and that come
}

type useArc struct{ arc, place, end int }

func newModel(places []Place, batches []Batch, held, spare []int, all int) *model {
	m := &model{batches: batches}
	net := &m.net
	move := all + 1
	for _, p := range places {
		m.ends = len(p.Use)
	}
	sink, others := net.node(-all), net.node(0)
	away := make([]int, m.ends) // by end date, moved units
	for e := range away {
		away[e] = net.node(0)
		if e > 0 {
			net.arc(away[e], away[e-1], 0, all, 0)
		}
	}
	final, home := make([]int, len(places)), make([][]int, len(places))
	for p, place := range places {
		final[p] = net.node(0)
		most := all
		if place.Most > 0 {
			most = max(place.Most, held[p])
		}
		net.arc(final[p], sink, min(place.Par, held[p]), most, 0)
		other := net.node(place.Other)
		net.arc(other, final[p], 0, place.Other, 0)
		cost := move
		if spare[p] == 0 {
			cost++
		}
		m.give = append(m.give, net.arc(other, others, 0, place.Other, cost))
		m.get = append(m.get, net.arc(others, final[p], 0, all, 0))
		home[p] = m.uses(p, place.Use, final[p], away, all)
	}
	slices.SortStableFunc(m.come, func(a, b useArc) int { return b.end - a.end })
	for _, b := range batches {
		node := net.node(b.Qty)
		net.arc(node, home[b.Place][b.End], 0, b.Qty, 0)
		m.moved = append(m.moved, net.arc(node, away[b.End], 0, b.Qty, move))
		m.idle = append(m.idle, net.arc(node, final[b.Place], 0, b.Qty, 0))
	}
	return m
}

// uses adds what a place uses between each two end dates, and returns by end date the node of its own units.
func (m *model) uses(p int, use []int, final int, away []int, all int) []int {
	net, home, sofar := &m.net, make([]int, m.ends), 0
	at := net.node(0) // nothing is used until the first use
	for e := range home {
		if more := min(use[e], all) - sofar; more > 0 {
			sofar += more
			earlier, slots := at, net.node(0)
			at = net.node(0)
			net.arc(at, earlier, 0, all, 0)
			net.arc(at, slots, 0, more, 0)
			net.arc(slots, final, 0, more, -(all+1)*(all+1))
			m.come = append(m.come, useArc{net.arc(away[e], slots, 0, more, 0), p, e})
		}
		home[e] = at
	}
	return home
}

// read reads the plan from the flow. Of moved units those that end last are matched with the last uses; no unit comes
// to the place that it left, or it would have stayed, which costs less.
func (m *model) read(plan *Plan) {
	byEnd := make([][]Move, m.ends)
	for i, b := range m.batches {
		plan.Used[i] = b.Qty - m.net.flow(m.idle[i])
		byEnd[b.End] = append(byEnd[b.End], Move{Batch: i, From: b.Place, Qty: m.net.flow(m.moved[i])})
	}
	var from, to []Move
	at := m.ends
	for _, c := range m.come {
		for ; at > c.end; at-- {
			from = append(from, byEnd[at-1]...)
		}
		from = plan.match(from, []Move{{To: c.place, Qty: m.net.flow(c.arc)}})
	}
	from = nil
	for p := range m.give {
		from = append(from, Move{Batch: Others, From: p, Qty: m.net.flow(m.give[p])})
		to = append(to, Move{To: p, Qty: m.net.flow(m.get[p])})
	}
	plan.match(from, to)
}

// match makes moves of units that leave and units that come, and returns those that leave otherwise.
func (plan *Plan) match(from, to []Move) []Move {
	for len(to) > 0 {
		if to[0].Qty == 0 {
			to = to[1:]
			continue
		}
		k := min(from[0].Qty, to[0].Qty)
		from[0].Qty -= k
		to[0].Qty -= k
		if move := (Move{from[0].Batch, from[0].From, to[0].To, k}); k > 0 {
			plan.Moves = append(plan.Moves, move)
		}
		if from[0].Qty == 0 {
			from = from[1:]
		}
	}
	return from
}

// order brings moves into an order in which no place gives what it has not to spare; spare is by place, and some has.
// When nothing goes any more, all that is left runs in circles through places with nothing to spare: those are lent to.
func order(spare []int, moves []Move) []Step {
	var steps, back []Step
	left, leaves := 0, make([]int, len(spare)) // of all, and by place
	moves = slices.Clone(moves)
	for _, m := range moves {
		left += m.Qty
		leaves[m.From] += m.Qty
	}
	do := func(s Step) {
		steps = append(steps, s)
		spare[s.From] -= s.Qty
		spare[s.To] += s.Qty
	}
	for left > 0 {
		i := nextMove(spare, leaves, moves)
		if i < 0 {
			first := moves[slices.IndexFunc(moves, func(m Move) bool { return m.Qty > 0 })]
			lender := slices.IndexFunc(spare, func(n int) bool { return n > 0 })
			k := min(spare[lender], first.Qty)
			do(Step{Move{Others, lender, first.From, k}, true})
			back = append(back, Step{Move{Others, first.From, lender, k}, true})
			continue
		}
		m := &moves[i]
		k := min(m.Qty, spare[m.From])
		do(Step{Move: Move{m.Batch, m.From, m.To, k}})
		m.Qty -= k
		left -= k
		leaves[m.From] -= k
	}
	for _, s := range back {
		do(s)
	}
	return steps
}

// nextMove is a move that can be made, first to a place that waits for it to give its own, or -1.
func nextMove(spare, leaves []int, moves []Move) int {
	best := -1
	for i, m := range moves {
		if m.Qty == 0 || spare[m.From] == 0 {
			continue
		}
		if leaves[m.To] > spare[m.To] {
			return i
		}
		if best < 0 {
			best = i
		}
	}
	return best
}
