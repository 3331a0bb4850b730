package labelstest

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A blank picture holds nothing, and neither decoder says otherwise.
func TestNothingIsReadOfABlank(t *testing.T) {
	blank := image.NewGray(image.Rect(0, 0, 90, 60))
	for i := range blank.Pix {
		blank.Pix[i] = 255
	}
	assert.Empty(t, Gozxing(blank, false))
	assert.Empty(t, Gozxing(blank, true))
	assert.Empty(t, Zbar(t, []*image.Gray{blank}))
}

func TestCropped(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 4, 3))
	for i := range img.Pix {
		img.Pix[i] = uint8(i)
	}
	part := Cropped(img, image.Rect(1, 1, 3, 9))
	assert.Equal(t, image.Rect(0, 0, 2, 2), part.Bounds())
	assert.Equal(t, []uint8{5, 6, 9, 10}, part.Pix)
}
