package amount

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPartsAreReadBack: what was given and wasted stands in a movement's note,
// and is read from there whatever else the note says.
func TestPartsAreReadBack(t *testing.T) {
	for _, c := range []struct{ given, wasted, wantGiven, wantWasted Amount }{
		{"5 mg", "5", "5 mg", "5 mg"}, {"10 mg", "", "10 mg", ""}, {"", "10", "", "10 mg"}, {"", "", "", ""},
		{" 2.50  mg ", "7,5 mg; spilt", "2.5 mg", "7,5 mg, spilt"},
	} {
		note := Parts{c.given, c.wasted}.Note("mg")
		for _, n := range []string{note, "reported by A. Person; " + note, "sent by a program; " + note + "; taken by crew"} {
			if note != "" {
				assert.Equal(t, Parts{c.wantGiven, c.wantWasted}, PartsOf(n), n)
			}
		}
	}
	assert.Equal(t, Parts{}, PartsOf("it was given away"))
}

// TestPartsAddUp: 21 CFR 1304.27(a) asks for the amount given and the amount
// disposed of, of each dose; together they are what was in the units.
func TestPartsAddUp(t *testing.T) {
	const short = "given and wasted do not add up to 10 mg"
	for _, c := range []struct {
		content       string
		qty           int
		given, wasted Amount
		want          string
	}{
		{"10 mg", 1, "5", "5", ""},
		{"10 mg", 1, "5 mg", "5mg", ""},
		{"10 mg", 1, "2,5 mg", "7.5 MG", ""},
		{"10 mg", 1, "10", "", ""},
		{"10 mg", 1, "", "10", ""},
		{"0.3 mg", 3, "0.1", "0.8", ""}, // no float says so
		{"10 mg", 1, "5", "", short},
		{"10 mg", 1, "5", "4", short},
		{"5 mg", 2, "5", "4", short},
		{"10 mg", 1, "-5", "15", short},
		{"10 mg", 1, "1e1", "", short},
		{"10 mg", 1, "", "", "given and wasted not recorded"},
		{"2.5 mg", 3, "7", "", "given and wasted do not add up to 7.5 mg"},
		{"100 μg", 1, "50 µg", "50", ""}, // two characters for one sign
		{"10 mg", 1, "0.5 ml", "9.5", short},
		{"10 mg", 1, "half", "half", short},
		{"", 1, "5", "4", ""},
	} {
		assert.Equal(t, c.want, Parts{c.given, c.wasted}.Wrong(ContentOf(c.content), c.qty).String(), "%+v", c)
	}
}

// TestAmounts: a number stays the number that it was, and what is none is kept.
func TestAmounts(t *testing.T) {
	for sent, want := range map[string]string{"2.50": "2.5", "0": "0", "10": "10",
		"0.000000001": "0.000000001", "null": `""`,
		`"5 mg"`: `"5 mg"`, "-3": `"-3"`, "1e3": `"1e3"`, "123456789012": "123456789012"} {
		var a Amount
		require.NoError(t, json.Unmarshal([]byte(sent), &a))
		out, err := json.Marshal(a)
		require.NoError(t, err)
		assert.Equal(t, want, string(out), sent)
	}
	for text, right := range map[string]bool{"10 mg": true, "0,5mg": true, "0 mg": false, "10": false, "mg": false,
		"": false, "10 mg in 1 ml": false} {
		assert.Equal(t, right, ContentOf(text).Right(), text)
	}
	assert.Equal(t, "0.5 mg", ContentOf("0,50mg").String())
	assert.Equal(t, "10 mg in 1 ml", ContentOf("10 mg in 1 ml").String())
	assert.True(t, ContentOf("").None())
}

// FuzzAmount: what is written of an amount is read as itself again, by people and by programs.
func FuzzAmount(f *testing.F) {
	for _, s := range []string{"2.5", "2,50 mg", "0", "000", "1e3", "10 µg", "10 μg", "; wasted 3",
		"999999999999.999999999"} {
		f.Add(s, "mg")
	}
	f.Fuzz(func(t *testing.T, text, unit string) {
		a := Of(text, unit)
		assert.Equal(t, a, Of(string(a), unit), "%q", text)
		b, err := json.Marshal(a)
		require.NoError(t, err)
		var back Amount
		require.NoError(t, json.Unmarshal(b, &back), "%s", b)
		if n, ok := a.In(unit); ok {
			again, ok := back.In(unit)
			require.True(t, ok, "%q", a)
			assert.Zero(t, n.Cmp(again), "%q", a)
		}
		if c := ContentOf(text); c.Right() {
			assert.Equal(t, c, ContentOf(c.String()), "%q", text)
		}
	})
}

// TestTimes: what one unit holds, once units are put together or taken apart.
func TestTimes(t *testing.T) {
	for _, c := range []struct {
		text, want string
		a, b       int
		ok         bool
	}{{"10 mg", "100 mg", 10, 1, true}, {"2.5 g", "1.25 g", 1, 2, true}, {"10 mg", "", 1, 3, false}, {"some", "", 2, 1,
		false}} {
		got, ok := ContentOf(c.text).Times(c.a, c.b)
		assert.Equal(t, c.ok, ok, c.text)
		if ok {
			assert.Equal(t, c.want, got.String())
		}
	}
}
