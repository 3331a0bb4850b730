package web

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// icon draws the mark of the program, a list by its spine, as icon.svg has it: whole to its edges for a launcher that
// cuts its own shape out, which leaves at least the inner four fifths.
func icon(size int, maskable bool) image.Image {
	paper, ink := color.RGBA{0xf4, 0xf1, 0xe8, 0xff}, color.RGBA{0x12, 0x3c, 0x45, 0xff}
	img := image.NewPaletted(image.Rect(0, 0, size, size), color.Palette{color.Transparent, ink, paper})
	part := float64(size) / 32
	within := func(x, y, left, top, right, bottom, round float64) bool {
		dx, dy := max(left+round-x, x-(right-round), 0), max(top+round-y, y-(bottom-round), 0)
		return dx*dx+dy*dy <= round*round
	}
	for py := range size {
		for px := range size {
			x, y := (float64(px)+.5)/part, (float64(py)+.5)/part
			if maskable {
				img.SetColorIndex(px, py, 1)
				x, y = 16+(x-16)*1.4, 16+(y-16)*1.4
			} else if within(x, y, 0, 0, 32, 32, 6) {
				img.SetColorIndex(px, py, 1)
			}
			const half = 1.7
			if within(x, y, 7-half, 6-half, 7+half, 26+half, half) || within(x, y, 13-half, 9-half, 25+half, 9+half, half) ||
				within(x, y, 13-half, 16-half, 25+half, 16+half, half) || within(x, y, 13-half, 23-half, 21+half, 23+half, half) {
				img.SetColorIndex(px, py, 2)
			}
		}
	}
	return img
}

// The icons that a phone shows are drawn by the program above. go test ./web -run Icons -update draws them again.
func TestIcons(t *testing.T) {
	for name, img := range map[string]image.Image{"icon-192.png": icon(192, false), "icon-512.png": icon(512, false),
		"icon-maskable.png": icon(512, true)} {
		if flag.Lookup("update").Value.String() == "true" {
			var b bytes.Buffer
			require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img))
			require.NoError(t, os.WriteFile("assets/"+name, b.Bytes(), 0o644))
		}
		body, err := os.ReadFile("assets/" + name)
		require.NoError(t, err)
		has, err := png.Decode(bytes.NewReader(body))
		require.NoError(t, err)
		require.Equal(t, img.Bounds(), has.Bounds())
		differ := 0
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if fmt.Sprint(color.RGBAModel.Convert(img.At(x, y))) != fmt.Sprint(color.RGBAModel.Convert(has.At(x, y))) {
					differ++
				}
			}
		}
		assert.Zero(t, differ, "%s: draw it again", name)
		assert.Less(t, len(body), 5000, name)
	}
}
