package temperature_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest/outside"
	"stowkeeper/inventory/temperature"
)

const hour = 3600

// every makes readings at equal times.
func every(seconds int64, celsius ...float64) []temperature.Reading {
	var out []temperature.Reading
	for i, c := range celsius {
		out = append(out, temperature.Reading{At: int64(i) * seconds, Celsius: c})
	}
	return out
}

// TestExamples are those of testdata/examples.json, which names where they are from.
func TestExamples(t *testing.T) {
	text, err := os.ReadFile("testdata/examples.json")
	require.NoError(t, err)
	var all []struct {
		ID                     string
		Celsius, Weights       []float64
		Published, Exact, Mean float64
	}
	require.NoError(t, json.Unmarshal(text, &all))
	require.Len(t, all, 6)
	for _, e := range all {
		t.Run(e.ID, func(t *testing.T) {
			var readings []temperature.Reading
			at := int64(0)
			for i, c := range e.Celsius {
				hours := int64(1)
				if e.Weights != nil {
					hours = int64(e.Weights[i])
				}
				for range hours {
					readings = append(readings, temperature.Reading{At: at, Celsius: c})
					at += hour
				}
			}
			got := temperature.KineticOf(readings, 0, at, hour)
			assert.InDelta(t, e.Exact, got.Celsius, 5e-6)
			if e.Published != 0 {
				assert.Equal(t, fmt.Sprintf("%.2f", e.Published), fmt.Sprintf("%.2f", got.Celsius))
			}
			if e.Mean != 0 {
				assert.InDelta(t, e.Mean, got.Mean, 1e-9)
			}
			assert.Equal(t, []int64{at, 0}, []int64{got.Seconds, got.Unknown})
		})
	}
}

// TestAYearHidesAMonth: the window belongs to the result. An article on the use of the mean kinetic temperature (USP
// Pharmacopeial Forum 44(4), Anderson, Seevers and Hunt) has a place with a peak of 30.7 °C that is below 25 °C over 52
// weeks and above it over 30 days; its readings are not printed.
func TestAYearHidesAMonth(t *testing.T) {
	const day = 24 * hour
	var year []temperature.Reading
	for d := range int64(364) {
		c := 22.0
		if d >= 200 && d < 230 {
			c = 28.5
		}
		year = append(year, temperature.Reading{At: d * day, Celsius: c})
	}
	assert.Less(t, temperature.KineticOf(year, 0, 364*day, day).Celsius, 25.0)
	month := temperature.KineticOf(year, 200*day, 230*day, day)
	assert.InDelta(t, 28.5, month.Celsius, 1e-9)
	assert.Equal(t, 30, month.Readings)
}

func TestGapsAndWindows(t *testing.T) {
	readings := []temperature.Reading{{0, 4}, {hour, 6}, {5 * hour, 10}, {6 * hour, 8}}
	k := temperature.KineticOf(readings, 0, 8*hour, 2*hour)
	assert.Equal(t, int64(5*hour), k.Seconds) // 1 + 2 + 1, and 1 for the last as for the one before it
	assert.Equal(t, int64(3*hour), k.Unknown)
	assert.Equal(t, []float64{4, 10}, []float64{k.Lowest, k.Highest})
	assert.InDelta(t, (4+2*6+10+8)/5.0, k.Mean, 1e-9)
	assert.Equal(t, 4, k.Readings)

	cut := temperature.KineticOf(readings, hour+hour/2, 5*hour+hour/2, 2*hour)
	assert.Equal(t, int64(2*hour), cut.Seconds) // an hour and a half of 6, half an hour of 10
	assert.InDelta(t, (1.5*6+0.5*10)/2, cut.Mean, 1e-9)
	assert.Equal(t, temperature.Kinetic{Unknown: hour}, temperature.KineticOf(nil, 0, hour, hour))
	assert.Equal(t, temperature.Kinetic{Unknown: hour}, temperature.KineticOf(readings, 3*hour, 4*hour, 2*hour))
	one := temperature.KineticOf(readings[:1], 0, 9*hour, hour)
	assert.Equal(t, int64(hour), one.Seconds, "one alone stands for the gap")
	assert.InDelta(t, 4, one.Celsius, 1e-9)
}

func TestSpells(t *testing.T) {
	fridge := temperature.Range{Low: 2, High: 8}
	for _, c := range []struct {
		name     string
		readings []temperature.Reading
		want     []temperature.Spell
	}{
		{"none", nil, nil},
		{"the ends are inside", every(hour, 2, 8, 5), nil},
		{"one over and one under", every(hour, 5, 9, 9.5, 9.2, 5, 1, 0, 2),
			[]temperature.Spell{{hour, 4 * hour, true, 9.5}, {5 * hour, 7 * hour, false, 0}}},
		{"from over to under at once", every(hour, 9, 1),
			[]temperature.Spell{{0, hour, true, 9}, {hour, 2 * hour, false, 1}}},
		{"still on at the end", every(hour, 5, 12), []temperature.Spell{{hour, 2 * hour, true, 12}}},
		{"what was between is not known", []temperature.Reading{{0, 9}, {9 * hour, 10}, {10 * hour, 5}},
			[]temperature.Spell{{0, 2 * hour, true, 9}, {9 * hour, 10 * hour, true, 10}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, temperature.Spells(c.readings, fridge, 0, 20*hour, 2*hour))
		})
	}
	cut := temperature.Spells(every(hour, 9, 9, 9, 9), fridge, hour/2, 2*hour, hour)
	assert.Equal(t, []temperature.Spell{{hour / 2, 2 * hour, true, 9}}, cut)
}

// random makes readings at irregular times, some far apart.
func random(rnd *rand.Rand) []temperature.Reading {
	var out []temperature.Reading
	at := int64(rnd.IntN(10))
	for range rnd.IntN(12) {
		out = append(out, temperature.Reading{At: at, Celsius: math.Round(rnd.Float64()*300)/10 - 5})
		at += 1 + int64(rnd.IntN(12))
	}
	return out
}

// standing is the reading that stands in a second, by looking for it.
func standing(readings []temperature.Reading, second, gap int64) (float64, bool) {
	for i, r := range readings {
		end := r.At + gap
		switch {
		case i+1 < len(readings):
			end = min(end, readings[i+1].At)
		case i > 0:
			end = min(end, r.At+r.At-readings[i-1].At)
		}
		if r.At <= second && second < end {
			return r.Celsius, true
		}
	}
	return 0, false
}

// TestEqualsSecondBySecond: temperatures, times and spells on 2,000 random cases.
func TestEqualsSecondBySecond(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 7))
	within := temperature.Range{Low: 2, High: 8}
	for range 2000 {
		readings, gap := random(rnd), int64(1+rnd.IntN(9))
		from := int64(rnd.IntN(20))
		to := from + int64(rnd.IntN(100))
		known, sum, aging := 0, 0.0, 0.0
		outside := 0 // seconds, of spells
		for s := from; s < to; s++ {
			c, ok := standing(readings, s, gap)
			if !ok {
				continue
			}
			known++
			sum += c
			aging += math.Exp(-83144 / 8.3144 / (c + 273.15))
			if c < within.Low || c > within.High {
				outside++
			}
		}
		k := temperature.KineticOf(readings, from, to, gap)
		require.EqualValues(t, known, k.Seconds)
		require.EqualValues(t, to-from-int64(known), k.Unknown)
		if known > 0 {
			n := float64(known)
			require.InDelta(t, sum/n, k.Mean, 1e-9)
			require.InDelta(t, 83144/8.3144/-math.Log(aging/n)-273.15, k.Celsius, 1e-9)
			require.GreaterOrEqual(t, k.Celsius, k.Mean-1e-9, "warm hours count more")
			require.LessOrEqual(t, k.Celsius, k.Highest+1e-9)
		}
		last := from
		for _, s := range temperature.Spells(readings, within, from, to, gap) {
			require.GreaterOrEqual(t, s.From, last)
			last = s.To
			furthest := s.Furthest
			for second := s.From; second < s.To; second++ {
				c, ok := standing(readings, second, gap)
				require.True(t, ok)
				require.Equal(t, s.Over, c > within.High)
				require.Equal(t, !s.Over, c < within.Low)
				require.False(t, s.Over && c > furthest || !s.Over && c < furthest)
				outside--
			}
			before, ok := standing(readings, s.From-1, gap)
			require.False(t, s.From > from && ok && (s.Over && before > within.High || !s.Over && before < within.Low))
		}
		require.Zero(t, outside, "seconds outside are all in spells")
	}
}

// TestAgreesWithR: at the same distances, where every reading weighs the same.
func TestAgreesWithR(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 71))
	var input strings.Builder
	cases := make([][]float64, 200)
	for i := range cases {
		for range 1 + rnd.IntN(100) {
			cases[i] = append(cases[i], rnd.Float64()*90-40)
		}
		fmt.Fprintln(&input, strings.Trim(fmt.Sprintf("%.17g", cases[i]), "[]"))
	}
	rows := outside.R(t, "", `for (line in readLines(input)) { k <- 273.15 + as.numeric(strsplit(line, " ")[[1]])
		row(83144 / 8.3144 / -log(mean(exp(-83144 / 8.3144 / k))) - 273.15) }`, input.String())
	require.Len(t, rows, len(cases))
	for i, c := range cases {
		k := temperature.KineticOf(every(60, c...), 0, int64(len(c))*60, 60)
		assert.InDelta(t, rows[i][0], k.Celsius, 1e-9)
	}
}

func BenchmarkKinetic(b *testing.B) {
	readings := make([]temperature.Reading, 365*96)
	for i := range readings {
		readings[i] = temperature.Reading{At: int64(i) * 900, Celsius: 20 + math.Sin(float64(i)/90)}
	}
	for b.Loop() {
		temperature.KineticOf(readings, 0, 365*86400, 1800)
	}
}
