package reorder

import (
	"math"
	"slices"
)

// Enough is how many incidents have to be known before a par is advised.
const Enough = 20

// Bag is what the par of one line of a kit list follows from.
type Bag struct {
	Uses      []int   // units of the item used at each incident, the incidents without any among them
	Incidents float64 // expected of one bag in the time that it takes to restock it, 0 or more; above 500 as 500
	Minimum   int     // of the line
	Published int     // what a published list asks for, or 0
	Par       int     // today's
}

// Advice is a par, never a change by itself.
type Advice struct {
	Known bool    // there were enough incidents; else the rest says nothing
	Par   int     // the lowest at which the chance is at most that asked for, and at least Minimum and Published
	Risk  float64 // the chance at that par that a bag is below its minimum before it is restocked
	Today float64 // the same at today's par
}

// ParFor advises the par at which the chance of running below the minimum between two restocks is at most risk, above
// 0; less than 0.0001 is that. A full bag goes to an incident, and to others until it is restocked, their number being
// Poisson; each uses what one of those known did, by chance.
func ParFor(bag Bag, risk float64) Advice {
	if len(bag.Uses) < Enough {
		return Advice{}
	}
	enough := min(1-risk, highest) - 1e-12 // less what adding up loses
	from := max(bag.Minimum, bag.Published)
	atMost := usedInAll(bag.Uses, min(bag.Incidents, mostIncidents), enough, max(from, bag.Par)-bag.Minimum)
	holds := func(par int) float64 {
		if par < bag.Minimum {
			return 0 // it is below from the start
		}
		return atMost[par-bag.Minimum]
	}
	a := Advice{Known: true, Par: from}
	for holds(a.Par) < enough {
		a.Par++
	}
	a.Risk, a.Today = 1-holds(a.Par), 1-holds(bag.Par)
	return a
}

// mostIncidents keeps exp(-mostIncidents) above zero; so many before a restock are no service that works.
const mostIncidents = 500

// usedInAll is the chances that at most 0, 1, 2 … units are used at one incident and a Poisson number of others, until
// they reach enough and beyond upTo, by the recursion of H. H. Panjer (ASTIN Bulletin 12:22–26, 1981).
func usedInAll(uses []int, others, enough float64, upTo int) []float64 {
	one := make([]float64, slices.Max(uses)+1)
	for _, n := range uses {
		one[n]++
	}
	for n := range one {
		one[n] /= float64(len(uses))
	}
	rest := []float64{math.Exp(-others * (1 - one[0]))}
	var atMost []float64
	for sum := 0.0; ; {
		k := len(atMost)
		if k > 0 {
			next := 0.0
			for j := 1; j <= min(k, len(one)-1); j++ {
				next += others / float64(k) * float64(j) * one[j] * rest[k-j]
			}
			rest = append(rest, next)
		}
		for j := 0; j <= min(k, len(one)-1); j++ {
			sum += one[j] * rest[k-j]
		}
		atMost = append(atMost, min(1, sum))
		if sum >= enough && k >= upTo {
			return atMost
		}
	}
}
