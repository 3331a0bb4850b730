package web

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	colourOf  = regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6});`)
	anyColour = regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|rgb\([^)]*\)`)
)

// At night in a vehicle the pages are dim, and no colour on them is red: red
// text cannot be read under a red cabin lamp, and a warning in red alone would
// be gone. What stops a bag is amber there, beside its word and its heavy block.
func TestTheDarkIsDimAndRedFree(t *testing.T) {
	css, err := assetFiles.ReadFile("assets/style.css")
	require.NoError(t, err)
	_, dark, found := strings.Cut(string(css), "@media (prefers-color-scheme: dark) {\n  :root {")
	require.True(t, found)
	dark, rest, _ := strings.Cut(dark, "}")
	colours := colourOf.FindAllStringSubmatch(dark, -1)
	light := colourOf.FindAllStringSubmatch(string(css[:strings.Index(string(css), "@media")]), -1)
	require.Len(t, colours, len(light), "each colour has one for the dark")
	for _, c := range colours {
		rgb, err := strconv.ParseUint(c[2], 16, 32)
		require.NoError(t, err)
		r, g, b := float64(rgb>>16), float64(rgb>>8&255), float64(rgb&255)
		assert.LessOrEqual(t, r, 1.25*g, "--%s is red", c[1])
		assert.LessOrEqual(t, max(r, g, b), 235.0, "--%s glares", c[1])
		if c[1] == "paper" || c[1] == "card" {
			assert.Less(t, max(r, g, b), 32.0, "--%s is a bright field", c[1])
		}
	}
	// At night all is of one warm hue, with nothing white or blue, and dimmer still.
	_, night, found := strings.Cut(rest, ":root.night {")
	require.True(t, found)
	night, rest, _ = strings.Cut(night, "}")
	colours = colourOf.FindAllStringSubmatch(night, -1)
	require.Len(t, colours, len(light), "each colour has one for the night")
	for _, c := range colours {
		rgb, err := strconv.ParseUint(c[2], 16, 32)
		require.NoError(t, err)
		r, g, b := rgb>>16, rgb>>8&255, rgb&255
		assert.True(t, r >= g && g >= b, "--%s is of another hue", c[1])
		assert.LessOrEqual(t, r, uint64(235), "--%s glares", c[1])
		assert.GreaterOrEqual(t, 5*g, 3*r, "--%s is red", c[1])
		if c[1] == "paper" || c[1] == "card" {
			assert.Less(t, r, uint64(18), "--%s is a bright field", c[1])
		}
	}
	// Other colours than these are on what is drawn for paper, and on the film.
	for _, line := range strings.Split(rest, "\n") {
		if anyColour.MatchString(line) && !strings.Contains(line, "--") {
			assert.Regexp(t, `^\s*(\.paper|\.enrol svg|\.symbol|\.camera video)`, line)
		}
	}
}
