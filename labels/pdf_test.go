package labels

import (
	"bytes"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func printed(t testing.TB, s Sheet, list []Label, opt Options) []byte {
	t.Helper()
	var buf bytes.Buffer
	_, err := WritePDF(&buf, s, list, opt)
	require.NoError(t, err)
	return buf.Bytes()
}

func TestPDFIsTheSameBytes(t *testing.T) {
	for _, s := range Sheets() {
		list := fitting(7)
		assert.Equal(t, printed(t, s, list, Options{Start: 1, OffsetX: 0.5}), printed(t, s, list, Options{OffsetX: 0.5}),
			s.Name)
	}
}

func TestPDFHoldsNoBitmapAndItsFonts(t *testing.T) {
	data := printed(t, sheet(t, "a4-3x7"), thousand(true)[:50], Options{})
	assert.NotContains(t, string(data), "/Subtype /Image")
	assert.NotContains(t, string(data), "BI\n")
	assert.Contains(t, string(data), "/FontFile2")
	assert.Contains(t, string(data), "/PrintScaling /None")
	assert.Len(t, regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(data, -1), 3)
	assert.Contains(t, string(data), "(D:20000101000000")
}

// gauge is 0.1 mm: what positions on the sheet may be off.
const gauge = 0.1

// The edges of the labels, read from the PDF, are where the geometry says, and
// so is every symbol: in the same place of each label, inside it with its
// quiet zone, with modules of the size that the report gives.
func TestPositionsOnEverySheet(t *testing.T) {
	for _, s := range Sheets() {
		list := make([]Label, s.PerPage())
		for i := range list {
			list[i] = everyKind(i)[0]
		}
		opt := Options{OffsetX: 1.5, OffsetY: -0.5, Outline: true}
		report, err := Plan(s, list, opt)
		require.NoError(t, err)
		read := pages(t, printed(t, s, list, opt), s.Paper.H)
		require.Len(t, read, 1, s.Name)
		require.Len(t, read[0].strokes, s.PerPage(), s.Name)
		require.Len(t, read[0].symbols, s.PerPage(), s.Name)
		for i := range list {
			x := s.Left + float64(i%s.Columns)*s.PitchX + opt.OffsetX
			y := s.Top + float64(i/s.Columns)*s.PitchY + opt.OffsetY
			edge := read[0].strokes[i]
			require.InDelta(t, x, edge.x, gauge, "%s %d", s.Name, i)
			require.InDelta(t, y, edge.y, gauge, "%s %d", s.Name, i)
			require.InDelta(t, s.Label.W, edge.w, gauge, "%s %d", s.Name, i)
			require.InDelta(t, s.Label.H, edge.h, gauge, "%s %d", s.Name, i)
			requireSymbolInside(t, s, read[0].symbols[i], edge, report.Fits[i])
		}
	}
}

func requireSymbolInside(t *testing.T, s Sheet, q placed, label rect, f Fit) {
	t.Helper()
	require.InDelta(t, f.ModuleMM, q.module, 0.001, s.Name)
	low, high := bounds(q.rects[0].shape()), bounds(q.rects[len(q.rects)-1].shape())
	assert.Zero(t, low.x)
	assert.Zero(t, low.y)
	assert.Equal(t, float64(f.Modules), high.y+high.h, "rows")
	quiet := quietZone * q.module
	assert.GreaterOrEqual(t, q.x-quiet, label.x+margin(s.Label)-gauge)
	assert.GreaterOrEqual(t, q.y-quiet, label.y+margin(s.Label)-gauge)
	assert.LessOrEqual(t, q.x+f.SideMM+quiet, label.x+label.w-margin(s.Label)+gauge)
	assert.LessOrEqual(t, q.y+f.SideMM+quiet, label.y+label.h-margin(s.Label)+gauge)
}

// The first symbol of the 3 by 7 sheet, worked out by hand: label at 7.21,
// 15.15 mm; margin 2; the symbol fills the height of 34.1 mm with 29 + 8
// modules of 0.9216 mm, so its first module is 4 modules further in.
func TestFirstSymbolByHand(t *testing.T) {
	s := sheet(t, "a4-3x7")
	read := pages(t, printed(t, s, everyKind(0)[:1], Options{Start: 5}), s.Paper.H)
	require.Len(t, read, 1)
	q := read[0].symbols[0]
	assert.InDelta(t, 7.21+66.04+2+4*34.1/37, q.x, 0.01) // position 5: second column,
	assert.InDelta(t, 15.15+38.1+2+4*34.1/37, q.y, 0.01) // second row
}

func TestStartPositionLeavesTheUsedOnesBlank(t *testing.T) {
	s := sheet(t, "a4-2x4")
	read := pages(t, printed(t, s, thousand(false)[:7], Options{Start: 6, Outline: true}), s.Paper.H)
	require.Len(t, read, 2)
	assert.Len(t, read[0].symbols, 3) // positions 6, 7, 8
	assert.Len(t, read[1].symbols, 4)
	x, y := s.Position(5)
	assert.InDelta(t, x, read[0].strokes[0].x, gauge)
	assert.InDelta(t, y, read[0].strokes[0].y, gauge)
}

// fitting is n labels, every kind in turn.
func fitting(n int) []Label {
	var out []Label
	for i := 0; len(out) < n; i++ {
		out = append(out, everyKind(i)...)
	}
	return out[:n]
}

func TestEveryKindFitsEverySheet(t *testing.T) {
	for _, s := range Sheets() {
		_, err := Plan(s, everyKind(1), Options{})
		assert.NoError(t, err, s.Name)
	}
}
