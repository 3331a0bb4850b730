package barcode

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rapidPicker(t *rapid.T) picker {
	return func(n int) int { return rapid.IntRange(0, n-1).Draw(t, "pick") }
}

// TestFormsAgree: one datum, written as a scanner sends it, with symbology
// identifiers, with needless separators, and as printed for people, gives the
// same facts.
func TestFormsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rapidPicker(t).validPairs()
		want := elementsOf(all)
		texts := []string{
			"]d2" + scanned(all), "]C1" + scanned(all), "]e0\x1d" + scanned(all),
			"]Q3" + scanned(all) + "\x1d", "\x1d" + scanned(all) + "\r\n", printed(all),
		}
		first, err := Parse(texts[0], today)
		require.NoError(t, err, "%q", texts[0])
		require.Equal(t, want, first.Elements)
		for _, text := range texts[1:] {
			facts, err := Parse(text, today)
			require.NoError(t, err, "%q", text)
			require.Equal(t, comparable(first), comparable(facts), "%q", text)
		}
	})
}

// comparable drops what depends on the form: positions and the separator.
func comparable(f Facts) Facts {
	f.SeparatorSeen = false
	f.Ordered = slices.Clone(f.Ordered)
	f.Warnings = slices.Clone(f.Warnings)
	for i := range f.Ordered {
		f.Ordered[i].Position = 0
	}
	for i := range f.Warnings {
		f.Warnings[i].Position = 0
	}
	return f
}

// TestLinkAgrees: key, qualifiers and attributes written as a Digital Link
// give the same elements and facts as the element string.
func TestLinkAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pick := rapidPicker(t)
		all := []pair{{"01", pick.validValue(known["01"])}}
		for _, ai := range []string{"22", "10", "21", "11", "17", "15", "30", "240", "710", "7003"} {
			if pick.chance(50) {
				all = append(all, pair{ai, pick.validValue(known[ai])})
			}
		}
		link, err := Parse(linked(all), today)
		require.NoError(t, err, linked(all))
		plain, err := Parse("]d2"+scanned(all), today)
		require.NoError(t, err)
		assert.Equal(t, DigitalLink, link.Scheme)
		link.Scheme = GS1
		assert.Equal(t, plain.Elements, link.Elements)
		// The query comes after the path, so the order differs.
		link.Ordered, plain.Ordered, link.Warnings, plain.Warnings = nil, nil, nil, nil
		assert.Equal(t, comparable(plain), comparable(link), linked(all))
	})
}

// TestEveryIdentifier: each identifier of the dictionary reads a valid value
// alone, and refuses it one character longer than its longest.
func TestEveryIdentifier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pick := rapidPicker(t)
		id := known[pick.of(allAIs...)]
		v := pick.validValue(id)
		facts, err := Parse("]d2"+id.ai+v, today)
		require.NoError(t, err, id.ai)
		assert.Equal(t, []Element{{id.ai, id.title, v, 3 + len(id.ai)}}, facts.Ordered)
		assert.Equal(t, len(id.needs) > 0, slices.ContainsFunc(facts.Warnings, Warning.Pairing))

		long := "(" + id.ai + ")" + v + pick.chars(digits, id.longest()+1-len(v))
		_, err = Parse(long, today)
		require.Error(t, err, long)
	})
}

// TestCenturyWindow: every two-digit year lands from 49 years back to 50
// ahead, whatever the day (General Specifications s.7.12).
func TestCenturyWindow(t *testing.T) {
	for now := 1950; now <= 2150; now++ {
		for yy := range 100 {
			year := fullYear(yy, Date{now, 6, 15})
			assert.Equal(t, yy, year%100)
			assert.GreaterOrEqual(t, year, now-49)
			assert.LessOrEqual(t, year, now+50)
		}
	}
}
