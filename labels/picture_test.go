package labels

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image"
	"image/color"
	_ "image/png"
	"io"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/labels/labelstest"
)

// decode reads the one symbol of a picture with gozxing; it is empty when none
// is found.
func decode(img image.Image) string { return labelstest.Gozxing(img, false) }

// address is what the symbol of l should say.
func address(l Label) string {
	switch l := l.(type) {
	case Bag:
		return l.Address
	case Card:
		return l.Address
	case Shelf:
		return l.Address
	default:
		return l.(Device).Address
	}
}

func TestPNGOfEveryKindDecodes(t *testing.T) {
	names, resolutions := []string{"a4-3x7", "a4-2x4", "letter-3x10"}, []int{203, 300}
	if raced {
		names, resolutions = names[:1], resolutions[:1]
	}
	for _, name := range names {
		s := sheet(t, name)
		for _, l := range everyKind(1) {
			for _, dpi := range resolutions {
				var buf bytes.Buffer
				_, err := WritePNG(&buf, l, s.Label, dpi)
				require.NoError(t, err)
				img, format, err := image.Decode(&buf)
				require.NoError(t, err)
				assert.Equal(t, "png", format)
				assert.Equal(t, address(l), decode(img), "%s %s %d", s.Name, l.Kind(), dpi)
			}
		}
	}
}

// Modules are whole pixels: every edge in the symbol lies on a multiple of the
// module from its left edge, and nothing in it is grey.
func TestPNGModulesAreWholePixels(t *testing.T) {
	var buf bytes.Buffer
	r, err := WritePNG(&buf, everyKind(1)[0], Size{63.5, 38.1}, 300)
	require.NoError(t, err)
	assert.Equal(t, "pHYs", string(buf.Bytes()[37:41]))
	assert.Equal(t, []byte{0, 0, 0x2E, 0x23}, buf.Bytes()[41:45], "11811 pixels a metre are 300 dpi")
	img, _, err := image.Decode(&buf)
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 750, 450), img.Bounds())
	side := int(r.Fits[0].ModuleMM * 300 / 25.4)
	left, top := firstDark(img)
	for y := top; y < top+side*r.Fits[0].Modules; y++ {
		last := uint8(255)
		for x := left; x < left+side*r.Fits[0].Modules; x++ {
			v := color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y
			require.True(t, v == 0 || v == 255, "grey at %d %d", x, y)
			if v != last {
				require.Zero(t, (x-left)%side, "edge at %d %d", x, y)
			}
			last = v
		}
	}
}

// firstDark is the corner of the symbol, which is the leftmost dark mark of a
// wide bag label.
func firstDark(img image.Image) (left, top int) {
	b := img.Bounds()
	for x := b.Min.X; x < b.Max.X; x++ {
		for y := b.Min.Y; y < b.Max.Y; y++ {
			if color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 128 {
				return x, y
			}
		}
	}
	return 0, 0
}

func TestPNGRefusesTooFewDots(t *testing.T) {
	var refused *RefusedError
	_, err := WritePNG(io.Discard, everyKind(1)[0], Size{63.5, 38.1}, 72)
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, "enter 83 dpi or more", refused.Nearest.String()) // 3 pixels in 0.9216 mm
	_, err = WritePNG(io.Discard, everyKind(1)[0], Size{63.5, 38.1}, 83)
	assert.NoError(t, err)
	var wrong *FieldError
	_, err = WritePNG(io.Discard, everyKind(1)[0], Size{63.5, 38.1}, 9)
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, "dpi", wrong.Field)
	_, err = WritePNG(io.Discard, everyKind(1)[0], Size{0, 38.1}, 300)
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, "size", wrong.Field)
}

func TestSVGIsWellFormedAndDecodes(t *testing.T) {
	for _, l := range everyKind(1) {
		var buf, again bytes.Buffer
		_, err := WriteSVG(&buf, l, Size{99.1, 67.7})
		require.NoError(t, err)
		_, err = WriteSVG(&again, l, Size{99.1, 67.7})
		require.NoError(t, err)
		require.Equal(t, buf.String(), again.String())
		requireXML(t, buf.Bytes())
		assert.Contains(t, buf.String(), `width="99.1mm" height="67.7mm"`)
		assert.Contains(t, buf.String(), "<title>"+l.Kind())
		paths := symbolPaths(buf.Bytes())
		require.Len(t, paths, 1)
		assert.Equal(t, address(l), decode(paint(paths[0])), l.Kind())
	}
}

func TestSVGEscapesNames(t *testing.T) {
	bag := everyKind(1)[0].(Bag)
	bag.Name = `A & B <script> "C"`
	var buf bytes.Buffer
	_, err := WriteSVG(&buf, bag, Size{99.1, 67.7})
	require.NoError(t, err)
	requireXML(t, buf.Bytes())
	assert.NotContains(t, buf.String(), "<script>")
}

func TestSheetSVGShowsThePage(t *testing.T) {
	s := sheet(t, "a4-2x4")
	list := fitting(10)
	var got []string
	for page := 1; page <= 2; page++ {
		var buf bytes.Buffer
		r, err := WriteSheetSVG(&buf, s, list, Options{Start: 3, Outline: true}, page)
		require.NoError(t, err)
		require.Equal(t, 2, r.Pages)
		requireXML(t, buf.Bytes())
		assert.Equal(t, s.PerPage(), bytes.Count(buf.Bytes(), []byte("stroke=")), "all positions are outlined")
		for _, p := range symbolPaths(buf.Bytes()) {
			got = append(got, decode(paint(p)))
		}
	}
	var want []string
	for _, l := range list {
		want = append(want, address(l))
	}
	assert.Equal(t, want, got)
	var wrong *FieldError
	_, err := WriteSheetSVG(io.Discard, s, list, Options{}, 3)
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, "page", wrong.Field)
}

func requireXML(t *testing.T, data []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err)
	}
}

var (
	symbolPath = regexp.MustCompile(`<path shape-rendering="crispEdges"[^>]* d="([^"]*)"`)
	bar        = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`)
)

func symbolPaths(svg []byte) (out []string) {
	for _, m := range symbolPath.FindAllSubmatch(svg, -1) {
		out = append(out, string(m[1]))
	}
	return out
}

// paint draws the path of a symbol at eight pixels a module.
func paint(path string) image.Image {
	const side, quiet = 8, 4
	img := image.NewGray(image.Rect(0, 0, 80*side, 80*side))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range bar.FindAllStringSubmatch(path, -1) {
		var n [4]int
		for i := range n {
			n[i], _ = strconv.Atoi(m[i+1])
		}
		for y := (quiet + n[1]) * side; y < (quiet+n[1]+1)*side; y++ {
			for x := (quiet + n[0]) * side; x < (quiet+n[0]+n[2])*side; x++ {
				img.Pix[y*img.Stride+x] = 0
			}
		}
	}
	return img
}
