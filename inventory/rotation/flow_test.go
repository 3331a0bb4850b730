package rotation

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// published is an example of testdata/flows.json, which names where it was printed.
type published struct {
	ID, Topic string
	Optimum   int
	Inputs    json.RawMessage
}

// costOf solves a network and adds up what it costs.
func costOf(t *testing.T, n *network) int {
	t.Helper()
	arcs := len(n.arcs)
	require.True(t, n.solve())
	sum := 0
	for i := 0; i < arcs; i += 2 {
		sum += n.flow(i) * n.arcs[i].cost
	}
	return sum
}

// TestPublishedFlows: flows, transports and assignments of textbooks and of GLPK's manual.
func TestPublishedFlows(t *testing.T) {
	text, err := os.ReadFile("testdata/flows.json")
	require.NoError(t, err)
	var all []published
	require.NoError(t, json.Unmarshal(text, &all))
	solve := map[string]func(*testing.T, json.RawMessage) int{"transport": transport, "assignment": assignment,
		"min-cost-flow": plainFlow, "rotation-constructed": constructed}
	require.Len(t, all, 8)
	for _, p := range all {
		t.Run(p.ID, func(t *testing.T) { assert.Equal(t, p.Optimum, solve[p.Topic](t, p.Inputs)) })
	}
}

func transport(t *testing.T, inputs json.RawMessage) int {
	var in struct {
		Supply, Demand []int
		Cost           [][]int
	}
	require.NoError(t, json.Unmarshal(inputs, &in))
	var n network
	left := 0
	for _, s := range in.Supply {
		left += s
		n.node(s)
	}
	for _, d := range in.Demand {
		left -= d
	}
	over := n.node(-left) // takes what nobody asks for
	for i, s := range in.Supply {
		n.arc(i, over, 0, s, 0)
	}
	for j, d := range in.Demand {
		to := n.node(-d)
		for i, s := range in.Supply {
			n.arc(i, to, 0, s, in.Cost[i][j])
		}
	}
	return costOf(t, &n)
}

func assignment(t *testing.T, inputs json.RawMessage) int {
	var in struct {
		Supply, Demand []int
		Cost           [][]int
	}
	require.NoError(t, json.Unmarshal(inputs, &in))
	for range in.Cost {
		in.Supply, in.Demand = append(in.Supply, 1), append(in.Demand, 1)
	}
	again, err := json.Marshal(in)
	require.NoError(t, err)
	return transport(t, again)
}

func plainFlow(t *testing.T, inputs json.RawMessage) int {
	var in struct {
		Supply map[int]int
		Arcs   [][5]int `json:"arcs_from_to_low_cap_cost"`
	}
	require.NoError(t, json.Unmarshal(inputs, &in))
	var n network
	for v := range 10 {
		n.node(in.Supply[v])
	}
	for _, a := range in.Arcs {
		n.arc(a[0], a[1], a[2], a[3], a[4])
	}
	return costOf(t, &n)
}

// constructed has a bound for each lot and place, and costs of its own for each way; what is placed pays.
func constructed(t *testing.T, inputs json.RawMessage) int {
	var in struct {
		Lots map[string]struct {
			Qty int
			At  string
		}
		Usable map[string]map[string]int `json:"usable_before_end"`
		Room   map[string]int
		Cost   map[string]int `json:"move_cost"`
		Value  int            `json:"value_saved"`
	}
	require.NoError(t, json.Unmarshal(inputs, &in))
	var n network
	sink := n.node(0)
	places := map[string]int{}
	for place, room := range in.Room {
		places[place] = n.node(0)
		n.arc(places[place], sink, 0, room, 0)
	}
	for lot, l := range in.Lots {
		node := n.node(l.Qty)
		n.supply[sink] -= l.Qty
		n.arc(node, sink, 0, l.Qty, 0)
		for place, most := range in.Usable[lot] {
			n.arc(node, places[place], 0, most, in.Cost[l.At+place]+in.Cost[place+l.At]-in.Value)
		}
	}
	return -costOf(t, &n)
}

// TestNoFlow: more is wanted than an arc lets through.
func TestNoFlow(t *testing.T) {
	var n network
	n.arc(n.node(3), n.node(-3), 0, 2, 1)
	assert.False(t, n.solve())
}
