// Package temperature judges how warm or cold a place was, by the readings of a logger: its mean kinetic temperature
// and the spells outside a range. It knows nothing of places or batches.
package temperature

import "math"

// Reading is what a logger read. Readings are in the order of their times.
type Reading struct {
	At      int64 // seconds since 1970-01-01T00:00:00Z
	Celsius float64
}

// cell is how long a reading stands.
type cell struct {
	Reading
	until int64
}

// cells says how long each reading stands within from and to: until the next, but no longer than gap; the last as long
// as the one before it, and one alone for gap. All in seconds.
func cells(readings []Reading, from, to, gap int64) []cell {
	var out []cell
	long := gap
	for i, r := range readings {
		if i+1 < len(readings) {
			long = min(gap, readings[i+1].At-r.At)
		}
		c := cell{r, min(to, r.At+long)}
		if c.At = max(from, r.At); c.until > c.At {
			out = append(out, c)
		}
	}
	return out
}

// overR is the activation energy over the gas constant, in kelvin: 83.144 kJ/mol, the mean of many medicines, over
// 8.3144 J/(mol K), as United States Pharmacopeia general chapter 1160 has it.
const overR = 83_144 / 8.3144

const zeroCelsius = 273.15 // in kelvin

// Kinetic is what a place was like between two times.
type Kinetic struct {
	// Celsius is the mean kinetic temperature: the one at which a medicine would have aged as much had it been the same
	// all the time, so that warm hours count more than cold ones (J. D. Haynes, J. Pharm. Sci. 60:927–929, 1971).
	Celsius  float64
	Mean     float64 // the plain mean, weighted in the same way
	Lowest   float64
	Highest  float64
	Seconds  int64 // for which readings stand; where it is 0 the temperatures say nothing
	Unknown  int64 // seconds between the two times for which none does
	Readings int   // that count
}

// KineticOf works out the temperature from one time to another, both in seconds: that window is part of the result, for
// a year hides what a month shows. Every reading counts for the time until the next, and for gap seconds at most.
func KineticOf(readings []Reading, from, to, gap int64) Kinetic {
	all := cells(readings, from, to, gap)
	k := Kinetic{Readings: len(all), Unknown: max(0, to-from)}
	if len(all) == 0 {
		return k
	}
	k.Lowest, k.Highest = all[0].Celsius, all[0].Celsius
	for _, c := range all {
		k.Seconds += c.until - c.At
		k.Lowest, k.Highest = min(k.Lowest, c.Celsius), max(k.Highest, c.Celsius)
	}
	k.Unknown -= k.Seconds
	aging := 0.0 // as a share of that at the highest
	hottest := k.Highest + zeroCelsius
	for _, c := range all {
		share := float64(c.until-c.At) / float64(k.Seconds)
		k.Mean += share * c.Celsius
		aging += share * math.Exp(overR/hottest-overR/(c.Celsius+zeroCelsius))
	}
	k.Celsius = overR/(overR/hottest-math.Log(aging)) - zeroCelsius
	return k
}

// Range is what temperatures may be, its ends included.
type Range struct{ Low, High float64 }

// Spell is a time during which every reading was outside a range, on one side of it.
type Spell struct {
	From, To int64 // seconds; To is when a reading inside was made, or as long as the last one outside stands
	Over     bool  // above the range, else under it
	Furthest float64
}

// Spells finds the spells from one time to another. Where no reading stands a spell ends, and another begins after it.
func Spells(readings []Reading, within Range, from, to, gap int64) []Spell {
	var out []Spell
	for _, c := range cells(readings, from, to, gap) {
		over := c.Celsius > within.High
		if !over && c.Celsius >= within.Low {
			continue
		}
		if i := len(out) - 1; i >= 0 && out[i].To == c.At && out[i].Over == over {
			s := &out[i]
			s.To = c.until
			if over == (c.Celsius > s.Furthest) {
				s.Furthest = c.Celsius
			}
			continue
		}
		out = append(out, Spell{c.At, c.until, over, c.Celsius})
	}
	return out
}
