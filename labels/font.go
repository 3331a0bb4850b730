package labels

import (
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// face is one of the two embedded fonts. They cover Latin, Greek and Cyrillic, the same characters each, and their
// zero has a stroke, so that a code with 0 and O can be read out.
type face int

const (
	regular face = iota
	bold
)

// Vertical measures of the Go fonts, in ems.
const (
	ascent  = 0.94
	leading = 1.16 // line to line
)

var ttf = [...][]byte{regular: goregular.TTF, bold: gobold.TTF}

// metrics is a parsed font. The slices cover the Basic Multilingual Plane, which is all that these fonts have.
type metrics struct {
	font     *sfnt.Font
	upem     int
	advances [0x10000]uint16 // font units; 0 where the font has no glyph
}

var fonts = sync.OnceValue(func() (all [len(ttf)]*metrics) {
	for f, data := range ttf {
		all[f] = parse(data)
	}
	return all
})

// parse reads an embedded font; one that cannot be read is a broken build.
func parse(data []byte) *metrics {
	f, err := sfnt.Parse(data)
	if err != nil {
		panic(fmt.Sprintf("labels: embedded font: %v", err))
	}
	m := &metrics{font: f, upem: int(f.UnitsPerEm())}
	var buf sfnt.Buffer
	for r := ' '; r < rune(len(m.advances)); r++ {
		i, err := f.GlyphIndex(&buf, r)
		if err != nil || i == 0 {
			continue
		}
		if adv, err := f.GlyphAdvance(&buf, i, fixed.I(m.upem), font.HintingNone); err == nil {
			m.advances[r] = uint16(adv.Round()) // #nosec G115 -- of our own font: a few thousand
		}
	}
	return m
}

// has tells whether the fonts can print r.
func has(r rune) bool {
	m := fonts()[regular]
	return r > 0 && int(r) < len(m.advances) && m.advances[r] > 0
}

// width is the length of s in ems.
func (f face) width(s string) float64 {
	m := fonts()[f]
	sum := 0
	for _, r := range s {
		if int(r) < len(m.advances) {
			sum += int(m.advances[r])
		}
	}
	return float64(sum) / float64(m.upem)
}

// printable turns s into what the fonts can print on one line: composed (NFC), every run of white space or control
// characters one space, a hyphen for the non-breaking one, and "?" for a character without a glyph. The second result
// lists those characters as code points.
func printable(s string) (string, []string) {
	if plain(s) {
		return s, nil
	}
	var b strings.Builder
	var lacking []string
	for _, r := range norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD")) {
		switch {
		case string(r) == glue:
			b.WriteString(glue)
		case unicode.IsSpace(r) || unicode.IsControl(r):
			b.WriteByte(' ')
		case r == '\u2011':
			b.WriteByte('-')
		case unicode.Is(unicode.Cf, r): // joiners and direction marks have no ink
		case has(r):
			b.WriteRune(r)
		default:
			lacking = append(lacking, fmt.Sprintf("U+%04X", r))
			if !unicode.Is(unicode.Mn, r) {
				b.WriteByte('?')
			}
		}
	}
	return strings.Join(split(b.String()), " "), lacking
}

// split cuts s at its blanks, but not where it is glued.
func split(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' })
}

// plain tells whether s is ASCII that can be printed as it stands.
func plain(s string) bool {
	last := byte(' ')
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < ' ' || c > '~' || c == ' ' && last == ' ' {
			return false
		}
		last = s[i]
	}
	return len(s) == 0 || last != ' '
}
