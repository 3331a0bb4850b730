package barcode

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// identifierSize gives an identifier's digits by its first two: General
// Specifications s.7.8.1, as GS1's syntax engine 1.4.1 checks it.
func identifierSize(firstTwo string) int {
	switch {
	case firstTwo <= "03", firstTwo >= "10" && firstTwo <= "13", firstTwo >= "15" && firstTwo <= "17",
		firstTwo >= "20" && firstTwo <= "22", firstTwo == "30", firstTwo == "37", firstTwo >= "90":
		return 2
	case strings.Contains("23 24 25 40 41 42 71", firstTwo):
		return 3
	case strings.Contains("31 32 33 34 35 36 39 43 70 72 80 81 82", firstTwo):
		return 4
	}
	return 0
}

func TestDictionary(t *testing.T) {
	for ai, id := range known {
		assert.Equal(t, identifierSize(ai[:2]), len(ai), ai)
		assert.Equal(t, ai, id.ai)
		assert.NotEmpty(t, id.title, ai)
		assert.NotEmpty(t, id.parts, ai)
		for n := 2; n < len(ai); n++ {
			assert.NotContains(t, known, ai[:n], "begins (%s)", ai)
		}
		for i, p := range id.parts {
			assert.Positive(t, p.min, ai)
			assert.GreaterOrEqual(t, p.max, p.min, ai)
			last := i == len(id.parts)-1
			assert.True(t, last || p.min == p.max, "(%s): only the last part may vary", ai)
		}
		if size := predefined[ai[:2]]; size > 0 {
			assert.Len(t, id.parts, 1, ai)
			assert.Equal(t, size, id.parts[0].min, ai)
			assert.Equal(t, size, id.parts[0].max, ai)
			assert.Equal(t, numeric, id.parts[0].set, ai)
		}
		checkPatterns(t, id)
	}
}

// checkPatterns: every identifier that the pairing rules name exists.
func checkPatterns(t *testing.T, id *identifier) {
	patterns := slices.Clone(id.excludes)
	for _, list := range append(id.needs, id.qualifiers...) {
		patterns = append(patterns, list...)
	}
	for _, pattern := range patterns {
		stem := strings.TrimRight(pattern, "n")
		found := false
		for ai := range known {
			found = found || len(ai) == len(pattern) && strings.HasPrefix(ai, stem)
		}
		assert.True(t, found, "(%s) names (%s)", id.ai, pattern)
	}
}

func TestCodeListsAreSorted(t *testing.T) {
	for _, list := range [][]string{countryNumbers, countryCodes, currencyNumbers} {
		assert.True(t, slices.IsSorted(list))
		assert.Equal(t, len(list), len(slices.Compact(slices.Clone(list))))
	}
	// ISO 3166-1 lists 249 countries, each with a number and two letters.
	assert.Len(t, countryNumbers, 249)
	assert.Len(t, countryCodes, 249)
}

// TestSet82 holds the set against its definition: 82 characters in the order
// of their codes (General Specifications figure 7.11-1).
func TestSet82(t *testing.T) {
	assert.Len(t, set82, 82)
	assert.True(t, slices.IsSorted([]byte(set82)))
	for _, c := range []byte(" #$@[\\]^`{|}~\x00\x1d\x7f\x80\xff") {
		assert.False(t, ascii82.has[c], "%q", c)
	}
}

// TestCheckDigit: GS1's two worked examples.
func TestCheckDigit(t *testing.T) {
	assert.Equal(t, byte('3'), checkDigit("629104150021"))
	assert.Equal(t, byte('7'), checkDigit("730001100001"))
}

// TestCheckPair: the worked example of GS1's syntax dictionary for (8013),
// and the same with each character changed.
func TestCheckPair(t *testing.T) {
	const model = "1987654Ad4X4bL5ttr2310c2K"
	assert.Nil(t, hasCheckPair(model, today))
	for i := range model {
		changed := []byte(model)
		changed[i] = '9'
		if model[i] == '9' {
			changed[i] = '8'
		}
		assert.NotNil(t, hasCheckPair(string(changed), today), i)
	}
}
