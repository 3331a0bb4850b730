// Package survival estimates from devices in service what share of their kind still passes inspection at an age, or
// after so many uses in training: the estimate of Kaplan and Meier (J. Am. Stat. Assoc. 53:457–481, 1958). It knows
// nothing of devices: a life is a number of days, or of uses.
package survival

import (
	"cmp"
	"math"
	"slices"
)

// Life is what was seen of one device, by its age in days or its number of uses: from when it was first looked after,
// to when it failed or was last seen. One that was lost, given away or taken out at its limit did not fail.
type Life struct {
	From   int // 0 where it was new; it counts for no age before this one, up to and with it
	Until  int // one of no length, Until at or below From, says nothing and is left out
	Failed bool
}

// Enough tells whether so many failures, or so many days that devices were looked after, are enough to say anything:
// 20 failures, or 50 years.
func Enough(failures, days int) bool { return failures >= 20 || float64(days) >= 50*365.25 }

// Step is what is known from one age at which devices failed until the next.
type Step struct {
	Age    int
	AtRisk int     // seen at this age: those that fail or leave at it among them
	Failed int     // at this age, above 0
	Share  float64 // that still serves after it, 0 to 1
	// StdErr is the standard error of Share by Greenwood's formula (The natural duration of cancer, 1926); 0 where
	// Share is 0.
	StdErr float64
	// Low and High hold the true share with the confidence asked for: Greenwood's interval on the scale of log(-log
	// Share), by which it stays between 0 and 1 (Kalbfleisch and Prentice, The Statistical Analysis of Failure Time
	// Data, 1980). Where Share is 0, High is that of the step before, and 1 at the first.
	Low, High float64
}

// Curve is the estimate: its steps by age, and how far it reaches.
type Curve struct {
	Steps []Step
	Last  int // the greatest age at which any device was seen; after it nothing is known
}

// Of estimates the curve. z is that of the two-sided confidence: 1.959963984540054 for 95 %.
func Of(lives []Life, z float64) Curve {
	lives = slices.DeleteFunc(slices.Clone(lives), func(l Life) bool { return l.Until <= l.From })
	slices.SortFunc(lives, func(a, b Life) int { return cmp.Compare(a.Until, b.Until) })
	froms := make([]int, len(lives))
	for i, l := range lives {
		froms[i] = l.From
	}
	slices.Sort(froms)
	var c Curve
	last := Step{Share: 1, Low: 1, High: 1}
	sum := 0.0       // of Greenwood's terms
	gone, in := 0, 0 // of lives, those that ended before this age, and of froms, those that began before it
	for gone < len(lives) {
		s := Step{Age: lives[gone].Until}
		for in < len(froms) && froms[in] < s.Age {
			in++
		}
		s.AtRisk = in - gone
		for ; gone < len(lives) && lives[gone].Until == s.Age; gone++ {
			if lives[gone].Failed {
				s.Failed++
			}
		}
		c.Last = s.Age
		if s.Failed == 0 {
			continue
		}
		n, d := float64(s.AtRisk), float64(s.Failed)
		s.Share = last.Share * (n - d) / n
		sum += d / (n * (n - d)) // infinite where none is left
		s.interval(sum, z, last.High)
		c.Steps = append(c.Steps, s)
		last = s
	}
	return c
}

// interval works out how sure the share of a step is, from the sum of Greenwood's terms so far.
func (s *Step) interval(sum, z, highBefore float64) {
	if s.Share == 0 {
		s.High = highBefore
		return
	}
	s.StdErr = s.Share * math.Sqrt(sum)
	way := math.Exp(z * math.Sqrt(sum) / math.Log(s.Share)) // below 1, as the logarithm is below 0
	s.Low, s.High = math.Pow(s.Share, 1/way), math.Pow(s.Share, way)
}

// At is the step that holds at an age, which may not be after Last; before any failure all serve.
func (c Curve) At(age int) Step {
	i, found := slices.BinarySearchFunc(c.Steps, age, func(s Step, age int) int { return cmp.Compare(s.Age, age) })
	if found {
		return c.Steps[i]
	}
	if i == 0 {
		return Step{Share: 1, Low: 1, High: 1}
	}
	return c.Steps[i-1]
}

// Limit is what replacing every device at an age means for one device, by the evidence.
type Limit struct {
	Fails  float64 // the chance that it fails before it is replaced, at the limit or earlier
	Serves float64 // how long it serves on average, in days or uses; its price is spread over these
	Known  bool    // the evidence reaches as far as the limit; where it does not, the others are as at Last
}

// Limit works out a limit, 0 or more: shorter or longer than the one in force.
func (c Curve) Limit(age int) Limit {
	out := Limit{Known: age <= c.Last}
	age = min(age, c.Last)
	at, share := 0, 1.0
	for _, s := range c.Steps {
		if s.Age > age {
			break
		}
		out.Serves += share * float64(s.Age-at)
		at, share = s.Age, s.Share
	}
	out.Serves += share * float64(age-at)
	out.Fails = 1 - share
	return out
}
