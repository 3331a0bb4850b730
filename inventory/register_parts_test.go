package inventory

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestPartsAreReadBack: what was given and wasted stands in a movement's note,
// and is read from there whatever else the note says.
func TestPartsAreReadBack(t *testing.T) {
	for _, c := range []struct{ given, wasted, wantGiven, wantWasted string }{
		{"5 mg", "5 mg", "5 mg", "5 mg"}, {"10 mg", "", "10 mg", ""}, {"", "10 mg", "", "10 mg"}, {"", "", "", ""},
		{" 2.5  mg ", "7,5 mg; spilt", "2.5 mg", "7,5 mg, spilt"},
	} {
		note := PartsNote(c.given, c.wasted)
		for _, n := range []string{note, WithNote("reported by A. Person", note), WithNote(WithNote("sent by a program",
			note), "taken by the crew of bag B")} {
			given, wasted := partsOf(n)
			assert.Equal(t, []string{c.wantGiven, c.wantWasted}, []string{given, wasted}, n)
		}
	}
}

// TestPartsAddUp: 21 CFR 1304.27(a) asks for the amount given and the amount
// disposed of, of each dose; together they are what was in the units.
func TestPartsAddUp(t *testing.T) {
	const short = "given and wasted do not add up to 10 mg"
	for _, c := range []struct {
		strength      string
		qty           int
		given, wasted string
		want          string
	}{
		{"10 mg in 1 ml", 1, "5 mg", "5mg", ""},
		{"10 mg in 1 ml", 1, "2,5 mg", "7.5 MG", ""},
		{"10 mg", 1, "10 mg", "", ""},
		{"10 mg", 1, "", "10 mg", ""},
		{"10 mg", 1, "5 mg", "", short},
		{"10 mg", 1, "5 mg", "4 mg", short},
		{"5 mg", 2, "5 mg", "4 mg", short},
		{"10 mg", 1, "", "", "what was given and what was wasted is not recorded"},
		{"2.5 mg", 3, "7 mg", "", "given and wasted do not add up to 7.5 mg"},
		{"100 μg", 1, "50 µg", "50 µg", ""},  // two characters for one sign
		{"10 mg", 1, "0.5 ml", "0.5 ml", ""}, // another unit: not judged
		{"10 mg", 1, "half", "half", ""},
		{"", 1, "5 mg", "4 mg", ""},
	} {
		assert.Equal(t, c.want, partsRemark(c.strength, c.qty, c.given, c.wasted), "%+v", c)
	}
}
