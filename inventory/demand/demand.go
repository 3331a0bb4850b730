// Package demand estimates from past use what is used in a period, such as a month: by exponential smoothing where use
// is steady, by Croston's method as Syntetos and Boylan corrected it where it comes now and then, and from what others
// use where there was none yet; and it says how good that would have been. It knows nothing of items or stations.
package demand

import "math"

// Period is what was used in one, and for how many of its days there was something to use.
type Period struct {
	Used    int // units
	Days    int // how long it is, above 0
	Stocked int // days on which there were units, the day on which the last was used among them
}

// Clean gives what would have been used had there been stock all the time: what was used on days with stock is raised
// to the whole period. A period with stock on fewer than half its days says too little and is left out, as though time
// had stood still.
func Clean(periods []Period) []float64 {
	series := make([]float64, 0, len(periods))
	for _, p := range periods {
		if p.Stocked > 0 && 2*p.Stocked >= p.Days {
			series = append(series, float64(p.Used)*float64(p.Days)/float64(p.Stocked))
		}
	}
	return series
}

// Class is how use comes, by the cut-offs 1.32 and 0.49 of Syntetos, Boylan and Croston (J. Oper. Res. Soc.
// 56:495–503, 2005).
type Class string

// Classes of use.
const (
	None         Class = "none"         // never used, or no period known
	Smooth       Class = "smooth"       // often and evenly
	Erratic      Class = "erratic"      // often and unevenly
	Intermittent Class = "intermittent" // now and then, evenly
	Lumpy        Class = "lumpy"        // now and then, unevenly
)

// Pattern is a class with the two figures that it follows from.
type Pattern struct {
	Class Class
	// Interval is the average interval between uses: all periods, those since the last use among them, over those with
	// use. At 1.32 periods use comes now and then. 0 where there was none.
	Interval float64
	// CV2 is the squared coefficient of variation of what is used when there is use: its variance, over all of these
	// periods, by the square of its mean. At 0.49 it is uneven.
	CV2 float64
}

// PatternOf classifies the use of periods in their order.
func PatternOf(series []float64) Pattern {
	n, sum, squares := 0.0, 0.0, 0.0
	for _, y := range series {
		if y > 0 {
			n++
			sum += y
			squares += y * y
		}
	}
	if n == 0 {
		return Pattern{Class: None}
	}
	p := Pattern{Interval: float64(len(series)) / n, CV2: max(0, n*squares/(sum*sum)-1)}
	classes := map[[2]bool]Class{{false, false}: Smooth, {false, true}: Erratic, {true, false}: Intermittent,
		{true, true}: Lumpy}
	p.Class = classes[[2]bool{p.Interval >= 1.32, p.CV2 >= 0.49}]
	return p
}

// Smoothed is the forecast of a period by simple exponential smoothing with the factor a, above 0 and at most 1. The
// first period starts it; without any it is 0.
func Smoothed(series []float64, a float64) float64 {
	if len(series) == 0 {
		return 0
	}
	level := series[0]
	for _, y := range series[1:] {
		level += a * (y - level)
	}
	return level
}

// Croston smooths what is used when there is use, and the periods from one use to the next, each with the factor a (J.
// D. Croston, Oper. Res. Q. 23:289–303, 1972). The first use starts both: its size, and the periods up to and with it.
// Both are 0 without any use.
func Croston(series []float64, a float64) (size, interval float64) {
	var sizes, intervals []float64
	last := -1
	for i, y := range series {
		if y > 0 {
			sizes, intervals = append(sizes, y), append(intervals, float64(i-last))
			last = i
		}
	}
	return Smoothed(sizes, a), Smoothed(intervals, a)
}

// Corrected is the forecast of a period by Croston's method, times 1 − a/2, which takes out the bias that dividing by a
// smoothed interval has (A. A. Syntetos and J. E. Boylan, Int. J. Forecasting 21:303–314, 2005).
func Corrected(series []float64, a float64) float64 {
	size, interval := Croston(series, a)
	if interval == 0 {
		return 0
	}
	return (1 - a/2) * size / interval
}

// Prior is what to expect where little is known: what like stations use in a period, and how many periods without any
// knowledge of its own a station would need to be believed as much as they are.
type Prior struct {
	Mean    float64 // units in a period, 0 or more
	Periods float64 // above 0
}

// with is the mean and variance of what the next period uses, by the periods known and the prior: each period's use
// being Poisson and its rate gamma, that is negative binomial.
func (p Prior) with(series []float64) (mean, variance float64) {
	known := p.Periods + float64(len(series))
	mean = p.Mean * p.Periods
	for _, y := range series {
		mean += y
	}
	mean /= known
	return mean, mean * (1 + 1/known)
}

// Method is how an estimate came about.
type Method string

// Methods of estimating.
const (
	BySmoothing Method = "smoothing" // use is smooth or erratic
	ByIntervals Method = "intervals" // use is intermittent or lumpy: Corrected
	ByPrior     Method = "prior"     // there was use in fewer than two periods
)

// Estimate is what is used in a period to come.
type Estimate struct {
	Pattern  Pattern
	Method   Method
	Mean     float64 // units in a period
	Variance float64 // of the units in one period around it: the mean squared error of the test, or the prior's
	Thin     bool    // too little is known to say how use comes: under 12 periods, or use in fewer than 4
	Test     Test    // on the own history
}

// Of estimates from the use of periods in their order, cleaned, with the smoothing factor a.
func Of(series []float64, a float64, prior Prior) Estimate {
	e := Estimate{Pattern: PatternOf(series)}
	e.Method, e.Mean = forecast(series, a, prior)
	_, e.Variance = prior.with(series)
	e.Test = BackTest(series, warmUp, func(past []float64) float64 {
		_, mean := forecast(past, a, prior)
		return mean
	})
	if e.Method != ByPrior && e.Test.Periods > 0 {
		e.Variance = e.Test.Ours.Squared
	}
	e.Thin = len(series) < 12 || usedIn(series) < 4
	return e
}

// warmUp is how many periods are known before the first that a test forecasts.
const warmUp = 6

func usedIn(series []float64) int {
	n := 0
	for _, y := range series {
		if y > 0 {
			n++
		}
	}
	return n
}

// forecast chooses the method by what is known, and uses it.
func forecast(series []float64, a float64, prior Prior) (Method, float64) {
	if usedIn(series) < 2 {
		mean, _ := prior.with(series)
		return ByPrior, mean
	}
	if c := PatternOf(series).Class; c == Smooth || c == Erratic {
		return BySmoothing, Smoothed(series, a)
	}
	return ByIntervals, Corrected(series, a)
}

// Errors tells how far forecasts were from what was used then.
type Errors struct {
	Squared  float64 // the mean of the squared errors: the measure to compare by, as the mean use makes it least
	Absolute float64 // the mean of the errors without their sign; where use is rare, zero beats every good forecast by it
	Bias     float64 // the mean of what was forecast above what was used
}

// Test is how a way of forecasting did on history beside two others: the same as in the period before, and zero.
type Test struct {
	Periods          int // that were forecast, each from those before it only
	Ours, Same, Zero Errors
}

// BackTest forecasts each period of a series from those before it, the first when so many are known, at least one.
func BackTest(series []float64, known int, forecast func(past []float64) float64) Test {
	t := Test{Periods: max(0, len(series)-known)}
	for i := known; i < len(series); i++ {
		t.Ours.add(forecast(series[:i])-series[i], t.Periods)
		t.Same.add(series[i-1]-series[i], t.Periods)
		t.Zero.add(-series[i], t.Periods)
	}
	return t
}

// add puts one of n errors to their means.
func (e *Errors) add(err float64, n int) {
	e.Squared += err * err / float64(n)
	e.Absolute += math.Abs(err) / float64(n)
	e.Bias += err / float64(n)
}
