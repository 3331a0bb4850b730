package demo

import "math/rand/v2"

// dice is the scenario's chance: the same every time.
type dice struct{ r *rand.Rand }

func newDice() *dice { return &dice{rand.New(rand.NewPCG(1902, 7))} } // #nosec G404 -- an invented scenario

// between returns a number from a to b, both included.
func (d *dice) between(a, b int) int { return a + d.r.IntN(b-a+1) }

// chance is true in n of 100 cases.
func (d *dice) chance(n int) bool { return d.r.IntN(100) < n }
