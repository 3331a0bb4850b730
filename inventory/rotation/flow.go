package rotation

import "math"

// network is a minimum-cost flow: nodes that supply or take units, arcs with bounds and a cost for each unit. Costs may
// be below zero. It is solved by shortest paths, all of one length at a time (primal-dual: Ford and Fulkerson, Flows in
// Networks, 1962); between two lengths the paths are found as E. A. Dinic finds them (Soviet Math. Doklady 11, 1970).
type network struct {
	arcs   []arc   // each is followed by its way back
	out    [][]int // arcs by the node that they leave
	supply []int   // what a node has too much of, below zero what it lacks
	dist   []int   // the cost of the cheapest way there, from the source
	level  []int   // the arcs on such a way
	next   []int   // of each node the first arc that has not been tried
	queue  []int   // of nodes, while levels are counted
}

type arc struct {
	to, room, cost int
	base           int // what flows where room of the way back is 0
}

// node adds a node that supplies so many units, or takes them, and returns its number.
func (n *network) node(supply int) int {
	n.out, n.supply = append(n.out, nil), append(n.supply, supply)
	return len(n.out) - 1
}

// arc adds an arc on which low to high units flow, and returns its number. One that pays starts full, so that in what
// is left no way round pays.
func (n *network) arc(from, to, low, high, cost int) int {
	forward, back := high-low, 0
	n.supply[from] -= low
	n.supply[to] += low
	if cost < 0 {
		forward, back = back, forward
		n.supply[from] -= back
		n.supply[to] += back
	}
	i := len(n.arcs)
	n.arcs = append(n.arcs, arc{to, forward, cost, low}, arc{from, back, -cost, 0})
	n.out[from], n.out[to] = append(n.out[from], i), append(n.out[to], i+1)
	return i
}

// flow is what flows on an arc.
func (n *network) flow(i int) int { return n.arcs[i].base + n.arcs[i^1].room }

// solve finds a flow of the least cost, and tells whether there is any.
func (n *network) solve() bool {
	supplies := n.supply
	source, sink := n.node(0), n.node(0)
	wanted := 0
	for v, s := range supplies {
		if s > 0 {
			n.arc(source, v, 0, s, 0)
			wanted += s
		} else if s < 0 {
			n.arc(v, sink, 0, -s, 0)
		}
	}
	n.dist, n.level, n.next = make([]int, len(n.out)), make([]int, len(n.out)), make([]int, len(n.out))
	for n.distances(source, sink) {
		for n.levels(source, sink) {
			clear(n.next)
			wanted -= n.push(source, sink, math.MaxInt)
		}
	}
	return wanted == 0
}

// distances finds the cost of the cheapest way to each node, and whether there is one to the sink.
func (n *network) distances(source, sink int) bool {
	for v := range n.dist {
		n.dist[v] = math.MaxInt
	}
	n.dist[source] = 0
	waits := make([]bool, len(n.out))
	for queue := []int{source}; len(queue) > 0; queue = queue[1:] {
		v := queue[0]
		waits[v] = false
		for _, i := range n.out[v] {
			a := n.arcs[i]
			if a.room == 0 || n.dist[v]+a.cost >= n.dist[a.to] {
				continue
			}
			n.dist[a.to] = n.dist[v] + a.cost
			if !waits[a.to] {
				waits[a.to] = true
				queue = append(queue, a.to)
			}
		}
	}
	return n.dist[sink] < math.MaxInt
}

// onCheapest tells whether an arc from v has room and lies on a cheapest way.
func (n *network) onCheapest(v int, a arc) bool {
	return a.room > 0 && n.dist[a.to] == n.dist[v]+a.cost
}

// levels counts the arcs of the shortest among the cheapest ways.
func (n *network) levels(source, sink int) bool {
	clear(n.level)
	n.level[source] = 1
	n.queue = append(n.queue[:0], source)
	for at := 0; at < len(n.queue) && n.level[sink] == 0; at++ {
		v := n.queue[at]
		for _, i := range n.out[v] {
			if a := n.arcs[i]; n.onCheapest(v, a) && n.level[a.to] == 0 {
				n.level[a.to] = n.level[v] + 1
				n.queue = append(n.queue, a.to)
			}
		}
	}
	return n.level[sink] > 0
}

// push sends up to so many units from v on to the sink, along such ways, and returns how many went.
func (n *network) push(v, sink, most int) int {
	if v == sink {
		return most
	}
	sent := 0
	for ; n.next[v] < len(n.out[v]) && sent < most; n.next[v]++ {
		i := n.out[v][n.next[v]]
		a := n.arcs[i]
		if !n.onCheapest(v, a) || n.level[a.to] != n.level[v]+1 {
			continue
		}
		k := n.push(a.to, sink, min(most-sent, a.room))
		n.arcs[i].room -= k
		n.arcs[i^1].room += k
		if sent += k; sent == most {
			break
		}
	}
	return sent
}
