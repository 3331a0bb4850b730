package labels

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/message"
)

// A training device's label differs from the same device's issue label in words
// and in shape, on every sheet, and there is no colour to lose: all ink is black.
func TestTrainingCannotPassForIssue(t *testing.T) {
	issue := everyKind(1)[3].(Device)
	training := issue
	training.Training = true
	for _, s := range Sheets() {
		a, err := compose(issue, s.content())
		require.NoError(t, err)
		b, err := compose(training, s.content())
		require.NoError(t, err)
		assert.Contains(t, lines(a), "For issue")
		assert.NotContains(t, lines(b), "For issue")
		assert.NotContains(t, lines(a), "TRAINING")
		assert.Empty(t, a.drawing.shapes, "an issue label has no bars")

		band := b.drawing.texts[0]
		assert.Equal(t, "TRAINING", band.s)
		assert.True(t, band.white)
		assert.GreaterOrEqual(t, band.size, 8*pt)
		stripes, black := 0, 0.0
		for _, shape := range b.drawing.shapes {
			if p := shape.points; p[0].y != p[1].y || p[0].x != p[3].x { // slanted, as no bar is
				stripes++
			}
			r := bounds(shape)
			black += r.w * r.h
		}
		assert.GreaterOrEqual(t, stripes, 8, s.Name)
		assert.Greater(t, black, 0.04*s.content().W*s.content().H, s.Name)
	}
}

func TestDeviceSaysWhichOne(t *testing.T) {
	c, err := compose(everyKind(1)[3], sheet(t, "letter-3x10").content())
	require.NoError(t, err)
	assert.Contains(t, lines(c), "SN 8812-0044")
	assert.Contains(t, lines(c), "Use by 31 May 2031")
}

// What gives way on a small label is told.
func TestLeftOutIsTold(t *testing.T) {
	d := everyKind(1)[4].(Device)
	d.Name = "Suction unit, portable, battery powered, with carrying case and charger, bay 7"
	d.UsableThrough = "31 May 2031"
	c, err := compose(d, sheet(t, "letter-3x10").content())
	require.NoError(t, err)
	assert.NotContains(t, lines(c), "SUC-BAT")
	assert.Contains(t, c.warnings, Warning{Field: "Code", Text: message.M("not printed: no room")})
}
