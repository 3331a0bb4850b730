package labels

import (
	"bytes"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func calibration(t *testing.T, s Sheet, opt Options) page {
	t.Helper()
	var buf, again bytes.Buffer
	require.NoError(t, WriteCalibration(&buf, s, opt))
	require.NoError(t, WriteCalibration(&again, s, opt))
	require.Equal(t, buf.Bytes(), again.Bytes(), "same bytes")
	read := pages(t, buf.Bytes(), s.Paper.H)
	require.Len(t, read, 1)
	return read[0]
}

// The rulers on every calibration page measure 50 mm, tick by tick.
func TestRulersAreFiftyMillimetres(t *testing.T) {
	for _, s := range Sheets() {
		p := calibration(t, s, Options{})
		var across, down rect
		for _, f := range p.fills {
			switch {
			case math.Abs(f.w-50) < 0.02 && f.h < 1:
				across = f
			case math.Abs(f.h-50) < 0.02 && f.w < 1:
				down = f
			}
		}
		require.NotZero(t, across, s.Name)
		require.NotZero(t, down, s.Name)
		var right, below []float64 // ticks: thin marks that start on the ruler
		for _, f := range p.fills {
			onAcross := math.Abs(f.y-across.y-hair/2) < 0.02 && f.w < 1 && f.h >= 1.9 && f.h < 6
			onDown := math.Abs(f.x-down.x-hair/2) < 0.02 && f.h < 1 && f.w >= 1.9 && f.w < 6
			if onAcross && f.x > across.x-1 && f.x < across.x+51 {
				right = append(right, f.x+hair/2-across.x)
			}
			if onDown && f.y > down.y-1 && f.y < down.y+51 {
				below = append(below, f.y+hair/2-down.y)
			}
		}
		require.Len(t, right, 51, s.Name)
		require.Len(t, below, 51, s.Name)
		for mm := range 51 {
			require.InDelta(t, float64(mm), right[mm], 0.02, s.Name)
			require.InDelta(t, float64(mm), below[mm], 0.02, s.Name)
		}
	}
}

// The outlines are where the labels are, offsets included.
func TestCalibrationOutlines(t *testing.T) {
	for _, s := range Sheets() {
		opt := Options{OffsetX: -2.5, OffsetY: 4, Start: 99} // the start does not matter
		p := calibration(t, s, opt)
		for i := range s.PerPage() {
			x, y := s.Position(i)
			want := rect{x + opt.OffsetX, y + opt.OffsetY - hair/2, s.Label.W, hair}
			assert.True(t, holds(p.fills, want), "%s: top edge of %d", s.Name, i)
			want = rect{x + opt.OffsetX - hair/2, y + opt.OffsetY, hair, s.Label.H}
			assert.True(t, holds(p.fills, want), "%s: left edge of %d", s.Name, i)
		}
	}
}

func holds(list []rect, want rect) bool {
	near := func(a, b float64) bool { return math.Abs(a-b) < 0.02 }
	for _, r := range list {
		if near(r.x, want.x) && near(r.y, want.y) && near(r.w, want.w) && near(r.h, want.h) {
			return true
		}
	}
	return false
}

func TestCalibrationChecksOffsets(t *testing.T) {
	var wrong *FieldError
	require.ErrorAs(t, WriteCalibration(io.Discard, sheet(t, "a4-3x7"), Options{OffsetX: 9}), &wrong)
	assert.Equal(t, "offset_x", wrong.Field)
}
