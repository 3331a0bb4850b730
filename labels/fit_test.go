package labels

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestShortenKeepsTheEnd(t *testing.T) {
	for _, c := range []struct {
		text  string
		room  string // the line is as wide as this text
		lines int
		want  string
	}{
		{"Response bag for the Riverside station North 2", "Response bag for the… North 2", 1,
			"Response bag for the… North 2"},
		{"Pressure dressing, sterile, 15 cm", "Pressure dressing… 15 cm", 1, "Pressure dressing… 15 cm"},
		{"Pressure dressing, sterile, 15 cm", "Pressure… 15 cm", 1, "Pressure… cm"}, // the end is at most a third
		{"Superextraordinarylongword", "Superextra…", 1, "Superextra…"},
		{"Tourniquet, windlass", "Tourniquet, w…", 1, "Tourniquet, w…"},
		{"Tourniquet, windlass", "Tourniquet,…", 1, "Tourniquet…"},
		{"One two three four five six", "One two three", 2, "One two… five six"},
		{"Anything", "", 1, "…"},
	} {
		got := shorten(words(c.text, regular), regular, regular.width(c.room)+1e-9, c.lines)
		assert.Equal(t, c.want, strings.Join(got, " "), c.text)
		assert.LessOrEqual(t, len(got), c.lines)
	}
}

// Whatever the text and the room, what is set fits the width and the number of
// lines, and is whole unless it says that it was shortened.
func TestSetInFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, _ := printable(rapid.String().Draw(t, "text"))
		b := block{
			text: text, face: face(rapid.IntRange(0, 1).Draw(t, "face")),
			size: rapid.Float64Range(1, 40).Draw(t, "size"), least: 2.1, lines: rapid.IntRange(1, 4).Draw(t, "lines"),
		}
		width := rapid.Float64Range(10, 200).Draw(t, "width")
		s := b.setIn(width, 1)
		require.LessOrEqual(t, len(s.lines), b.lines)
		require.GreaterOrEqual(t, s.size, b.least)
		for _, line := range s.lines {
			require.LessOrEqual(t, b.face.width(line)*s.size, width+1e-6)
		}
		if !s.shortened {
			require.Equal(t, text, strings.Join(s.lines, " "))
		}
	})
}

func TestPrintable(t *testing.T) {
	for _, c := range []struct {
		in, want string
		lacking  []string
	}{
		{"Plain text", "Plain text", nil},
		{"  two\n\tlines  ", "two lines", nil},
		{"Łódź, Ковалі, Σταθμός", "Łódź, Ковалі, Σταθμός", nil},
		{"e\u0301tage", "étage", nil}, // composed
		{"kit\u2011list", "kit-list", nil},
		{"a\u200bb\u202ec", "abc", nil}, // no ink
		{"bag 一 ✂", "bag ? ?", []string{"U+4E00", "U+2702"}},
		{"x\u0338", "x", []string{"U+0338"}}, // a mark that does not compose
		{"bad \xff byte", "bad \uFFFD byte", nil},
	} {
		got, lacking := printable(c.in)
		assert.Equal(t, c.want, got)
		assert.Equal(t, c.lacking, lacking, c.in)
	}
}

func TestPrintableIsStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		once, _ := printable(rapid.String().Draw(t, "text"))
		twice, lacking := printable(once)
		require.Equal(t, once, twice)
		require.Empty(t, lacking)
	})
}

// The three scripts that are promised are there, in both faces.
func TestFontHasThePromisedScripts(t *testing.T) {
	for _, span := range []struct {
		name     string
		from, to rune
		most     int // glyphs that may be missing
	}{
		{"Latin", 0x20, 0x7E, 0}, {"Latin-1", 0xA1, 0xFF, 1}, {"Latin Extended-A", 0x100, 0x17F, 0},
		{"Greek letters", 0x391, 0x3CE, 1}, {"Cyrillic", 0x400, 0x45F, 0},
	} {
		var missing []rune
		for r := span.from; r <= span.to; r++ {
			for _, m := range fonts() {
				if m.advances[r] == 0 {
					missing = append(missing, r)
					break
				}
			}
		}
		assert.LessOrEqual(t, len(missing), span.most, "%s lacks %q", span.name, missing)
	}
	assert.True(t, has('ѕ') && has('Ґ') && has('…') && has('×'))
}
