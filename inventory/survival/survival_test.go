package survival_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory/inventorytest/outside"
	"stowkeeper/inventory/survival"
)

const z95 = 1.959963984540054

// TestPublished: the maintained arm of the data that R calls aml, and its estimate as printed in R. G. Miller,
// Survival Analysis (Wiley, 1981), and by R's survival; the standard errors are Greenwood's.
func TestPublished(t *testing.T) {
	var lives []survival.Life
	for _, until := range []int{9, 13, -13, 18, 23, -28, 31, 34, -45, 48, -161} {
		lives = append(lives, survival.Life{Until: max(until, -until), Failed: until > 0})
	}
	type row struct {
		age, atRisk, failed int
		share, stdErr       float64
	}
	var got []row
	c := survival.Of(lives, z95)
	for _, s := range c.Steps {
		got = append(got, row{s.Age, s.AtRisk, s.Failed, math.Round(s.Share*1e3) / 1e3, math.Round(s.StdErr*1e4) / 1e4})
	}
	assert.Equal(t, []row{{9, 11, 1, .909, .0867}, {13, 10, 1, .818, .1163}, {18, 8, 1, .716, .1397},
		{23, 7, 1, .614, .1526}, {31, 5, 1, .491, .1642}, {34, 4, 1, .368, .1627}, {48, 2, 1, .184, .1535}}, got)
	assert.Equal(t, 161, c.Last)
	assert.Equal(t, survival.Step{Share: 1, Low: 1, High: 1}, c.At(8))
	assert.Equal(t, c.Steps[0], c.At(9))
	assert.Equal(t, c.Steps[0], c.At(12))
	assert.Equal(t, c.Steps[6], c.At(161))
}

func TestEdges(t *testing.T) {
	assert.Equal(t, survival.Curve{}, survival.Of(nil, z95))
	assert.Equal(t, survival.Curve{}, survival.Of([]survival.Life{{From: 5, Until: 5, Failed: true}}, z95), "no length")
	assert.Equal(t, survival.Step{Share: 1, Low: 1, High: 1}, survival.Curve{}.At(0))
	assert.Equal(t, survival.Limit{}, survival.Curve{}.Limit(400))

	all := survival.Of([]survival.Life{{Until: 3, Failed: true}, {Until: 3, Failed: true}}, z95)
	assert.Equal(t, []survival.Step{{Age: 3, AtRisk: 2, Failed: 2, High: 1}}, all.Steps, "all at once: nothing is sure")
	last := survival.Of([]survival.Life{{Until: 3, Failed: true}, {Until: 4, Failed: true}}, z95)
	assert.Equal(t, 0.0, last.Steps[1].Share)
	assert.Equal(t, last.Steps[0].High, last.Steps[1].High)
	censored := survival.Of([]survival.Life{{Until: 7}}, z95)
	assert.Equal(t, survival.Curve{Last: 7}, censored)
	late := survival.Of([]survival.Life{{From: 3, Until: 9}, {Until: 3, Failed: true}, {Until: 3}}, z95)
	assert.Equal(t, 2, late.Steps[0].AtRisk, "who came at the age of 3 was not there to fail at 3; who left at 3 was")
}

func TestEnough(t *testing.T) {
	for _, c := range []struct {
		failures, days int
		want           bool
	}{{19, 18262, false}, {20, 0, true}, {0, 18263, true}} { // 50 × 365.25 is 18,262.5
		assert.Equal(t, c.want, survival.Enough(c.failures, c.days), "%+v", c)
	}
}

// TestLimit: of four devices that failed at 2, 4, 6 and 8, a limit of 5 would have seen two fail, and 2+4+5+5 of
// service; and one of 9 cannot be judged.
func TestLimit(t *testing.T) {
	var lives []survival.Life
	for _, age := range []int{2, 4, 6, 8} {
		lives = append(lives, survival.Life{Until: age, Failed: true})
	}
	c := survival.Of(lives, z95)
	assert.Equal(t, survival.Limit{Fails: 0.5, Serves: 4, Known: true}, c.Limit(5))
	assert.Equal(t, survival.Limit{Fails: 0.25, Serves: 2, Known: true}, c.Limit(2))
	assert.Equal(t, survival.Limit{Known: true}, c.Limit(0))
	assert.Equal(t, survival.Limit{Fails: 1, Serves: 5, Known: true}, c.Limit(8))
	assert.Equal(t, survival.Limit{Fails: 1, Serves: 5}, c.Limit(9))
}

// TestEqualsRedistribution: without late entries the estimate is what one gets by handing the weight of each device
// that left in equal parts to those seen for longer (B. Efron, The two sample problem with censored data, 1967).
func TestEqualsRedistribution(t *testing.T) {
	life := rapid.Custom(func(t *rapid.T) survival.Life {
		return survival.Life{Until: rapid.IntRange(1, 12).Draw(t, "until"), Failed: rapid.Bool().Draw(t, "failed")}
	})
	rapid.Check(t, func(t *rapid.T) {
		lives := rapid.SliceOfN(life, 1, 30).Draw(t, "lives")
		c := survival.Of(lives, z95)
		slices.SortFunc(lives, func(a, b survival.Life) int {
			if a.Until == b.Until && a.Failed != b.Failed {
				return map[bool]int{true: -1, false: 1}[a.Failed]
			}
			return a.Until - b.Until
		})
		weight := make([]float64, len(lives))
		for i := range weight {
			weight[i] = 1 / float64(len(lives))
		}
		share := 1.0
		for i, l := range lives {
			if l.Failed {
				share -= weight[i]
			} else {
				for j := i + 1; j < len(lives); j++ {
					weight[j] += weight[i] / float64(len(lives)-i-1)
				}
			}
			if i == len(lives)-1 || lives[i+1].Until > l.Until {
				at := c.At(l.Until)
				assert.InDelta(t, share, at.Share, 1e-9)
				assert.LessOrEqual(t, at.Low, at.Share)
				assert.GreaterOrEqual(t, at.High, at.Share)
			}
		}
	})
}

// asR has R's survival estimate curves: of its own data aml, by arm, and lung; and of what it is given. At each age of
// failure it prints the case, age, at risk, failed, share, standard error and limits, and the mean service within a
// limit, by numbers of its own.
const asR = `
say <- function(case, s, limit) {
  f <- survfit(s ~ 1, conf.type="log-log"); k <- summary(f)
  for (i in seq_along(k$time))
    row(case, k$time[i], k$n.risk[i], k$n.event[i], k$surv[i], k$std.err[i], k$lower[i], k$upper[i])
  row(case, limit, summary(f, rmean=limit)$table[["rmean"]])
}
for (arm in levels(aml$x)) { a <- aml[aml$x == arm,]; row(nrow(a)); row(a$time); row(a$status)
  say(-1, Surv(a$time, a$status), 30) }
row(nrow(lung)); row(lung$time); row(lung$status - 1); say(-1, Surv(lung$time, lung$status), 400)
d <- read.table(input)
for (case in unique(d$V1)) { x <- d[d$V1 == case,]; limit <- floor(max(x$V3) * 0.7)
  say(case, if (any(x$V2 > 0)) Surv(x$V2, x$V3, x$V4) else Surv(x$V3, x$V4), limit) }
`

// TestAgreesWithR: on R's own data, and on 200 random cases with ties, devices that left, and on every second one
// devices that came late.
func TestAgreesWithR(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 10))
	cases := map[int][]survival.Life{}
	var input strings.Builder
	for i := range 200 {
		for range 3 + rnd.IntN(80) {
			l := survival.Life{Until: 1 + rnd.IntN(1+rnd.IntN(60)), Failed: rnd.IntN(3) > 0}
			if i%2 == 1 && l.Until > 1 && len(cases[i]) > 2 { // three are new: else R too sees nobody at first
				l.From = rnd.IntN(l.Until)
			}
			failed := map[bool]int{true: 1}[l.Failed]
			fmt.Fprintln(&input, i, l.From, l.Until, failed)
			cases[i] = append(cases[i], l)
		}
	}
	rows := outside.R(t, "survival", asR, input.String())
	const own = -1 // R's own data, which it prints before its answers: how many, ages, failures
	var c survival.Curve
	now, step, theirs, compared := -2, 0, 0, 0
	for i := 0; i < len(rows); i++ {
		r := rows[i]
		if len(r) == 1 {
			var lives []survival.Life
			for k := range int(r[0]) {
				lives = append(lives, survival.Life{Until: int(rows[i+1][k]), Failed: rows[i+2][k] == 1})
			}
			c, now, step, i = survival.Of(lives, z95), own, 0, i+2
			theirs++
			continue
		}
		if int(r[0]) != now {
			now, step = int(r[0]), 0
			c = survival.Of(cases[now], z95)
		}
		if len(r) == 3 { // the last of a case
			require.Equal(t, len(c.Steps), step, "case %d", now)
			assert.InDelta(t, r[2], c.Limit(int(r[1])).Serves, 1e-9, "case %d", now)
			compared++
			continue
		}
		compare(t, r, c.Steps[step])
		step++
	}
	assert.Equal(t, 3, theirs)
	assert.Equal(t, 203, compared)
}

// compare compares a line of R's with a step. Where no share is left R gives neither error nor limits.
func compare(t *testing.T, r []float64, s survival.Step) {
	t.Helper()
	require.Equal(t, []int{int(r[1]), int(r[2]), int(r[3])}, []int{s.Age, s.AtRisk, s.Failed}, "case %v", r[0])
	for i, got := range []float64{s.Share, s.StdErr, s.Low, s.High} {
		if i == 0 || s.Share > 0 {
			assert.InDelta(t, r[4+i], got, 1e-9, "case %v, age %d, %d", r[0], s.Age, i)
		}
	}
}

func BenchmarkOf(b *testing.B) {
	rnd := rand.New(rand.NewPCG(1, 1))
	lives := make([]survival.Life, 10_000)
	for i := range lives {
		lives[i] = survival.Life{Until: 1 + rnd.IntN(4000), Failed: rnd.IntN(4) == 0}
	}
	for b.Loop() {
		survival.Of(lives, z95)
	}
}
