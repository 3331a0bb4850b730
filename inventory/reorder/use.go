// Package reorder works out how much to hold and how much to order, from what is used and how long an order takes, and
// what of it will end before it is used. It knows nothing of items or suppliers: use is a mean and a variance.
package reorder

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mathext"
)

// Use is how many units are used in a time: by the Poisson distribution where the variance is at most the mean, else
// by the negative binomial of that mean and variance. For means up to 3,000 chances are right to 1e-9, but with a
// variance of less than 1.01 times the mean, to 1e-8.
type Use struct{ Mean, Variance float64 } // each 0 or more

// Over is the use of so many times as long, with uses independent of each other.
func (u Use) Over(times float64) Use { return Use{u.Mean * times, u.Variance * times} }

// binomial gives the parameters of the negative binomial distribution, and whether it is the one.
func (u Use) binomial() (size, prob float64, ok bool) {
	return u.Mean * u.Mean / (u.Variance - u.Mean), u.Mean / u.Variance, u.Variance > u.Mean && u.Mean > 0
}

// AtMost is the chance that at most k units are used.
func (u Use) AtMost(k int) float64 {
	size, prob, ok := u.binomial()
	switch {
	case k < 0:
		return 0
	case ok:
		return mathext.RegIncBeta(size, float64(k)+1, prob)
	case u.Mean > 0:
		return mathext.GammaIncRegComp(float64(k)+1, u.Mean)
	}
	return 1
}

// highest is the highest chance that can be asked for: what is more would have no end.
const highest = 0.9999

// Quantile is the fewest units of which, by the chance p, no more are used. p is below 1; above 0.9999 it is that.
func (u Use) Quantile(p float64) int {
	p = min(p, highest)
	high := int(u.Mean) + 1
	for u.AtMost(high) < p {
		high *= 2
	}
	return sort.Search(high, func(k int) bool { return u.AtMost(k) >= p })
}

// Short is how many units are missing on average where so many are there, 0 or more.
func (u Use) Short(stock int) float64 {
	above, k := u, float64(stock) // above: the distribution of one unit in all that are used
	if size, prob, ok := u.binomial(); ok {
		above = Use{u.Mean * (size + 1) / size, u.Mean * (size + 1) / size / prob}
	}
	return max(0, u.Mean*(1-above.AtMost(stock-1))-k*(1-u.AtMost(stock)))
}

// Left is how many units are left on average where so many are there.
func (u Use) Left(stock int) float64 { return float64(stock) - u.Mean + u.Short(stock) }

// Z is the standard normal quantile of a one-sided chance: 1.645 for 0.95.
func Z(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
