package reorder_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest/outside"
	"stowkeeper/inventory/reorder"
)

// asR has R's own distributions; what is missing on average it adds up unit by unit.
const asR = `
d <- read.table(input)
for (i in seq_len(nrow(d))) { m <- d$V1[i]; v <- d$V2[i]; k <- d$V3[i]; p <- d$V4[i]; s <- m*m/(v-m); w <- m/v
  F <- if (v > m) function(q) pnbinom(q, s, w) else function(q) ppois(q, m)
  U <- if (v > m) function(q) pnbinom(q, s, w, lower.tail=FALSE) else function(q) ppois(q, m, lower.tail=FALSE)
  Q <- if (v > m) qnbinom(p, s, w) else qpois(p, m)
  far <- k + 60 * sqrt(v) + 400
  row(F(k), Q, sum(U(k:far)), qnorm(p)) }
`

// TestAgreesWithR: chances, quantiles, units missing and z, on 1,000 random parameters.
func TestAgreesWithR(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 4))
	type parameters struct {
		u reorder.Use
		k int
		p float64
	}
	cases := make([]parameters, 1000)
	var input strings.Builder
	for i := range cases {
		mean := math.Exp(rnd.Float64()*13 - 5) // 0.007 to 3,000
		variance := mean * rnd.Float64()
		if i%2 == 1 {
			variance = mean * (1 + math.Exp(rnd.Float64()*7.5-4.5)) // 1.011 to 21 times the mean
		}
		sd := math.Sqrt(max(mean, variance))
		c := parameters{reorder.Use{Mean: mean, Variance: variance}, max(0, int(mean+sd*rnd.NormFloat64()*2)),
			0.5 + rnd.Float64()*0.4999}
		cases[i] = c
		fmt.Fprintf(&input, "%.17g %.17g %d %.17g\n", mean, variance, c.k, c.p)
	}
	rows := outside.R(t, "", asR, input.String())
	require.Len(t, rows, len(cases))
	for i, c := range cases {
		assert.InDelta(t, rows[i][0], c.u.AtMost(c.k), 1e-9, "%+v", c)
		assert.EqualValues(t, rows[i][1], c.u.Quantile(c.p), "%+v", c)
		assert.InDelta(t, rows[i][2], c.u.Short(c.k), 1e-9*max(1, c.u.Mean), "%+v", c)
		assert.InDelta(t, rows[i][3], reorder.Z(c.p), 1e-9, "%+v", c)
	}
}

func TestUseAtItsEdges(t *testing.T) {
	none := reorder.Use{}
	assert.Equal(t, 0.0, none.AtMost(-1))
	assert.Equal(t, 1.0, none.AtMost(0))
	assert.Equal(t, 0, none.Quantile(0.99))
	assert.Equal(t, 0.0, none.Short(0))
	u := reorder.Use{Mean: 3, Variance: 9}
	assert.InDelta(t, 3, u.Short(0), 1e-12)
	assert.InDelta(t, 0, u.Left(0), 1e-12)
	assert.Equal(t, u.Quantile(0.9999), u.Quantile(1), "there is no end of what may be used")
	assert.Equal(t, u.Quantile(0.9999), u.Quantile(0.99995))
	assert.Equal(t, 0, reorder.Use{Mean: 0.01, Variance: 0.01}.Quantile(0.5))
	assert.Equal(t, reorder.Use{Mean: 12, Variance: 36}, u.Over(4))
}
