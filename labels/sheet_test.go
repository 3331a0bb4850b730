package labels

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSheetByName(t *testing.T) {
	var names []string
	for _, s := range Sheets() {
		got, err := SheetByName(s.Name)
		require.NoError(t, err)
		assert.Equal(t, s, got)
		names = append(names, s.Name)
	}
	assert.Equal(t, "a4-3x7 a4-3x8 a4-2x4 a4-2x2 a4-1x1 letter-3x10 letter-2x5", strings.Join(names, " "))
	_, err := SheetByName("a5-9x9")
	assert.ErrorContains(t, err, "a4-3x7, a4-3x8")
	assert.NotContains(t, err.Error(), "a5", "the value is not echoed")
}

func TestSheetsCannotBeChangedFromOutside(t *testing.T) {
	Sheets()[0].Columns = 99
	assert.Equal(t, 3, Sheets()[0].Columns)
}

// Grids stand in the middle of the paper and their labels do not overlap.
func TestGridsAreCentred(t *testing.T) {
	for _, s := range Sheets() {
		right := s.Paper.W - s.Left - float64(s.Columns-1)*s.PitchX - s.Label.W
		bottom := s.Paper.H - s.Top - float64(s.Rows-1)*s.PitchY - s.Label.H
		assert.InDelta(t, s.Left, right, 0.06, s.Name)
		assert.InDelta(t, s.Top, bottom, 0.06, s.Name)
		assert.GreaterOrEqual(t, s.PitchX, s.Label.W, s.Name)
		assert.GreaterOrEqual(t, s.PitchY, s.Label.H, s.Name)
	}
}

// The sheets whose layouts were measured: the geometry lies in the spread that
// label layouts of that size show (template set of Debian's glabels-data 3.4.1,
// read by program).
func TestGeometryWithinTheSpreadSeen(t *testing.T) {
	for name, want := range map[string]struct{ left, top, pitchX [2]float64 }{
		"a4-3x7":      {[2]float64{6.75, 7.25}, [2]float64{15.1, 15.9}, [2]float64{66, 66.5}},
		"a4-3x8":      {[2]float64{0, 0}, [2]float64{0, 0.95}, [2]float64{70, 70}},
		"a4-2x4":      {[2]float64{4.6, 6}, [2]float64{13, 13.8}, [2]float64{101.1, 101.64}},
		"letter-3x10": {[2]float64{3.97, 5.58}, [2]float64{12.7, 12.7}, [2]float64{69.85, 69.85}},
	} {
		s, err := SheetByName(name)
		require.NoError(t, err)
		within := func(v float64, span [2]float64) {
			t.Helper()
			assert.True(t, v >= span[0]-0.01 && v <= span[1]+0.01, "%s: %v not in %v", name, v, span)
		}
		within(s.Left, want.left)
		within(s.Top, want.top)
		within(s.PitchX, want.pitchX)
	}
}

// What is printed stays inside its label's margin and off the printer's rim,
// and has one size on all labels of a sheet.
func TestContentKeepsOffTheEdges(t *testing.T) {
	for _, s := range Sheets() {
		size := s.content()
		assert.Greater(t, size.W, 0.85*s.Label.W, s.Name)
		assert.Greater(t, size.H, 0.8*s.Label.H, s.Name)
		for i := range s.PerPage() {
			lx, ly := s.Position(i)
			x, y := s.contentAt(i)
			m := margin(s.Label)
			require.GreaterOrEqual(t, x, max(lx+m, rim)-1e-9, "%s %d", s.Name, i)
			require.GreaterOrEqual(t, y, max(ly+m, rim)-1e-9, "%s %d", s.Name, i)
			require.LessOrEqual(t, x+size.W, min(lx+s.Label.W-m, s.Paper.W-rim)+1e-9, "%s %d", s.Name, i)
			require.LessOrEqual(t, y+size.H, min(ly+s.Label.H-m, s.Paper.H-rim)+1e-9, "%s %d", s.Name, i)
		}
	}
}

func TestSheetDescribesItself(t *testing.T) {
	s, err := SheetByName("a4-1x1")
	require.NoError(t, err)
	assert.Equal(t, "A4, whole page", s.String())
	s, err = SheetByName("letter-3x10")
	require.NoError(t, err)
	assert.Equal(t, "US Letter, 3 × 10 labels of 66.7 × 25.4 mm", s.String())
	assert.Equal(t, 30, s.PerPage())
}
