package labels

import (
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyText draws the texts that people give: words of several scripts, long
// ones, empty ones, and anything at all now and then.
func anyText(t *rapid.T, name string) string {
	word := rapid.OneOf(
		rapid.StringMatching(`[A-Z][a-z]{1,14}`), rapid.StringMatching(`[0-9]{1,6}`),
		rapid.SampledFrom([]string{"Ковалі", "Σταθμός", "Łódź", "—", "kit-list,", "一"}),
		rapid.StringN(0, 12, -1),
	)
	return strings.Join(rapid.SliceOfN(word, 0, 9).Draw(t, name), " ")
}

func anyLabel(t *rapid.T) Label {
	code := rapid.StringMatching(`[A-Z0-9][A-Z0-9-]{0,15}`).Draw(t, "code")
	address := Address("https://kit.example.org", code)
	text := func(name string) string { return anyText(t, name) }
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		return Bag{Code: code, Name: text("name"), KitList: text("list"), Edition: text("edition"), Address: address}
	case 1:
		lines := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) CardLine {
			return CardLine{Pouch: rapid.SampledFrom([]string{"", "Bleeding", "Airway"}).Draw(t, "pouch"),
				Item: "Item " + anyText(t, "item"), Quantity: rapid.IntRange(0, 120).Draw(t, "quantity")}
		}), 1, 30).Draw(t, "lines")
		return Card{Code: code, Name: text("name"), KitList: text("list"), Edition: "2026-1", Contents: lines,
			EarliestDate: rapid.SampledFrom([]string{"", "30 Jun 2027"}).Draw(t, "date"), Seal: "004512", Address: address}
	case 2:
		return Shelf{Code: code, Name: text("name"), Place: text("place"), Unit: text("unit"), Address: address}
	default:
		return Device{Serial: code, Name: text("name"), Code: text("code"), UsableThrough: "31 May 2031",
			Training: rapid.Bool().Draw(t, "training"), Address: address}
	}
}

// inked is the box of a line of text: from its ascenders to its descenders.
func inked(t text) rect {
	return rect{t.x, t.y - 0.74*t.size, t.face.width(t.s) * t.size, 0.95 * t.size}
}

func overlap(a, b rect) bool {
	const slack = 1e-6
	return a.x < b.x+b.w-slack && b.x < a.x+a.w-slack && a.y < b.y+b.h-slack && b.y < a.y+a.h-slack
}

// Whatever the texts, on every sheet: a label is refused, or all its ink is
// inside the box, nothing touches the symbol's quiet zone, and no two lines of
// text overlap.
func TestNothingIsClippedOrOverlaps(t *testing.T) {
	printed, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		l := anyLabel(t)
		s := rapid.SampledFrom(sheets).Draw(t, "sheet")
		c, err := compose(l, s.content())
		if err != nil {
			refused++
			var r *RefusedError
			require.ErrorAs(t, err, &r)
			return
		}
		printed++
		requireClean(t, c)
	})
	t.Logf("%d printed, %d refused", printed, refused)
	require.Greater(t, printed, refused)
}

func requireClean(t require.TestingT, c *composer) {
	d := c.drawing
	q := quietZone * d.symbol.ModuleMM
	quiet := rect{d.symbol.x - q, d.symbol.y - q, d.symbol.SideMM + 2*q, d.symbol.SideMM + 2*q}
	inside := func(r rect) {
		require.True(t, r.x >= -1e-6 && r.y >= -1e-6 && r.x+r.w <= c.box.W+1e-6 && r.y+r.h <= c.box.H+1e-6, "%v in %v", r,
			c.box)
	}
	inside(quiet)
	for _, s := range d.shapes {
		b := bounds(s)
		inside(b)
		require.False(t, overlap(b, quiet), "shape %v in the quiet zone %v", b, quiet)
	}
	for i, a := range d.texts {
		inside(inked(a))
		require.False(t, overlap(inked(a), quiet), "text %v in the quiet zone %v", inked(a), quiet)
		for _, b := range d.texts[i+1:] {
			require.False(t, overlap(inked(a), inked(b)), "%v over %v", a, b)
		}
	}
}

func bounds(s shape) rect {
	low, high := s.points[0], s.points[0]
	for _, p := range s.points {
		low = point{min(low.x, p.x), min(low.y, p.y)}
		high = point{max(high.x, p.x), max(high.y, p.y)}
	}
	return rect{low.x, low.y, high.x - low.x, high.y - low.y}
}

// Whatever is composed can be written in all three forms. Under the race
// detector painting is slow, and one in five is painted.
func TestAnythingCanBeWritten(t *testing.T) {
	tried := 0
	rapid.Check(t, func(t *rapid.T) {
		l := anyLabel(t)
		s := rapid.SampledFrom(sheets[:3]).Draw(t, "sheet")
		if _, err := Plan(s, []Label{l}, Options{}); err != nil {
			return
		}
		_, err := WritePDF(io.Discard, s, []Label{l}, Options{})
		require.NoError(t, err)
		_, err = WriteSVG(io.Discard, l, s.Label) // has at least the room that the sheet gives
		require.NoError(t, err)
		if tried++; raced && tried%5 != 0 {
			return
		}
		_, err = WritePNG(io.Discard, l, s.Label, 203)
		require.NoError(t, err)
	})
}
