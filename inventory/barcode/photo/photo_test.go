package photo_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/barcode/photo"
)

var theDay = barcode.Date{Year: 2026, Month: 11, Day: 25}

// zint makes symbols, as a program that knows nothing of how we read them.
// Quiet zones are on.
func zint(t testing.TB, kind, text string, more ...string) image.Image {
	t.Helper()
	path, err := exec.LookPath("zint")
	if err != nil {
		if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
			t.Fatal("zint is not installed and STOWKEEPER_NO_SKIP is set")
		}
		t.Skip("zint is not installed")
	}
	file := filepath.Join(t.TempDir(), "symbol.png")
	args := append([]string{"-b", kind, "--quietzones", "--notext", "--scale=2.5", "-o", file, "-d", text}, more...)
	out, err := exec.Command(path, args...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	return img
}

// raced is true under the race detector.
var raced bool

// packs are what symbols say: in zint's brackets, and what must come back.
var packs = []struct{ text, lot, end, serial string }{
	{"[01]09521234543213[17]270614[10]LOT-7A[21]SN0042", "LOT-7A", "2027-06-14", "SN0042"},
	{"[01]09521234543213[10]B/29.1[17]280200[21]77", "B/29.1", "2028-02", "77"},
	{"[01]09521234543213[21]A1B2C3D4E5[10]4711[17]291231", "4711", "2029-12-31", "A1B2C3D4E5"},
}

// variant is what a phone makes of a symbol.
type variant struct {
	name string
	make func(image.Image) image.Image
}

var variants = []variant{
	{"plain", func(i image.Image) image.Image { return i }},
	{"turned by 7 degrees", func(i image.Image) image.Image { return turned(i, 7) }},
	{"turned by 25 degrees", func(i image.Image) image.Image { return turned(i, 25) }},
	{"turned by 90 degrees", func(i image.Image) image.Image { return turned(i, 90) }},
	{"upside down", func(i image.Image) image.Image { return turned(i, 183) }},
	{"a little blurred", func(i image.Image) image.Image { return blurred(i, 1.2) }},
	{"blurred", func(i image.Image) image.Image { return blurred(i, 2.0) }},
	{"dim", func(i image.Image) image.Image { return dim(i, 30, 70) }},
	{"very dim, with noise", func(i image.Image) image.Image { return noisy(dim(i, 20, 44), 4) }},
	{"lit from one side", func(i image.Image) image.Image { return shaded(i) }},
	{"small in a large photo", func(i image.Image) image.Image { return placed(i, 2400, 1800) }},
	{"white on black", func(i image.Image) image.Image { return dim(i, 255, 0) }},
	{"turned, blurred and dim", func(i image.Image) image.Image { return dim(blurred(turned(i, 12), 1.2), 40, 110) }},
}

// TestRoundTrip photographs symbols that zint made, as JPEG, and reads them
// back: lot, end and serial number, separators included. What is read is never
// read wrongly.
func TestRoundTrip(t *testing.T) {
	read, tried := 0, 0
	packs, variants := packs, variants
	if raced { // an order of magnitude slower, and there is nothing to race
		packs, variants = packs[:1], variants[:3]
	}
	for kind, name := range map[string]string{"71": "Data Matrix", "16": "Code 128"} {
		for _, p := range packs {
			symbol := zint(t, kind, p.text, "--gs1")
			for _, v := range variants {
				tried++
				var file bytes.Buffer
				require.NoError(t, jpeg.Encode(&file, v.make(symbol), &jpeg.Options{Quality: 80}))
				got, err := photo.Decode(t.Context(), &file)
				if err != nil {
					require.ErrorIs(t, err, photo.ErrNotFound)
					t.Logf("%s, %s: %s was not found", name, p.text, v.name)
					continue
				}
				read++
				assert.Equal(t, name, got.Symbol)
				facts, err := barcode.Parse(got.Text, theDay)
				require.NoError(t, err, "%q", got.Text)
				assert.Equal(t, []string{"09521234543213", p.lot, p.end, p.serial}, []string{facts.ProductCode, facts.BatchNo,
					facts.EndPrinted, facts.Serial}, v.name)
				assert.True(t, facts.SeparatorSeen, v.name)
			}
		}
	}
	t.Logf("read %d of %d pictures", read, tried)
	assert.GreaterOrEqual(t, read*100, tried*floor, "share of pictures read")
}

// floor is the least share of the pictures that must be read, in per cent.
const floor = 95

func grey(img image.Image) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dy()))
	draw.Draw(out, out.Rect, img, img.Bounds().Min, draw.Src)
	return out
}

func white(w, h int) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Rect, image.White, image.Point{}, draw.Src)
	return out
}

func turned(img image.Image, degrees float64) image.Image {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	w, h := float64(img.Bounds().Dx()), float64(img.Bounds().Dy())
	nw, nh := math.Abs(w*cos)+math.Abs(h*sin), math.Abs(w*sin)+math.Abs(h*cos)
	out := white(int(nw)+2, int(nh)+2)
	m := f64.Aff3{cos, -sin, nw/2 - cos*w/2 + sin*h/2, sin, cos, nh/2 - sin*w/2 - cos*h/2}
	draw.BiLinear.Transform(out, m, img, img.Bounds(), draw.Over, nil)
	return out
}

// blurred convolves with a Gauss curve of that deviation, in pixels.
func blurred(img image.Image, sigma float64) image.Image {
	reach := int(3 * sigma)
	var curve []float64
	sum := 0.0
	for i := -reach; i <= reach; i++ {
		v := math.Exp(-float64(i*i) / (2 * sigma * sigma))
		curve, sum = append(curve, v), sum+v
	}
	pass := func(in *image.Gray, dx, dy int) *image.Gray {
		out := image.NewGray(in.Rect)
		for y := range in.Rect.Dy() {
			for x := range in.Rect.Dx() {
				v := 0.0
				for k, share := range curve {
					px, py := min(max(x+dx*(k-reach), 0), in.Rect.Dx()-1), min(max(y+dy*(k-reach), 0), in.Rect.Dy()-1)
					v += share * float64(in.GrayAt(px, py).Y)
				}
				out.SetGray(x, y, color.Gray{Y: uint8(v / sum)})
			}
		}
		return out
	}
	return pass(pass(grey(img), 1, 0), 0, 1)
}

// mapped changes every point of a picture.
func mapped(img image.Image, f func(x, y int, v float64) float64) image.Image {
	out := grey(img)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			out.SetGray(x, y, color.Gray{Y: uint8(min(255, max(0, f(x, y, float64(out.GrayAt(x, y).Y)))))})
		}
	}
	return out
}

// dim puts black and white at two other shades.
func dim(img image.Image, black, white float64) image.Image {
	return mapped(img, func(_, _ int, v float64) float64 { return black + v*(white-black)/255 })
}

func noisy(img image.Image, by float64) image.Image {
	dice := rand.New(rand.NewPCG(1, 2))
	return mapped(img, func(_, _ int, v float64) float64 { return v + dice.NormFloat64()*by })
}

func shaded(img image.Image) image.Image {
	w := float64(img.Bounds().Dx())
	return mapped(img, func(x, _ int, v float64) float64 { return v * (0.25 + 0.75*float64(x)/w) })
}

// placed puts a symbol off the middle of a large photo of a pack with print on
// it.
func placed(img image.Image, w, h int) image.Image {
	out := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Rect, image.NewUniform(color.Gray{Y: 120}), image.Point{}, draw.Src)
	pack := image.Rect(w/8, h/8, w*7/8, h*7/8)
	draw.Draw(out, pack, image.NewUniform(color.Gray{Y: 235}), image.Point{}, draw.Src)
	for line := range 6 { // print: rows of strokes
		for x := pack.Min.X + 60; x < pack.Min.X+700; x += 17 {
			r := image.Rect(x, pack.Min.Y+50+line*40, x+9, pack.Min.Y+74+line*40)
			draw.Draw(out, r, image.NewUniform(color.Gray{Y: 40}), image.Point{}, draw.Src)
		}
	}
	at := image.Pt(pack.Max.X-img.Bounds().Dx()-80, pack.Max.Y-img.Bounds().Dy()-120)
	draw.Draw(out, img.Bounds().Sub(img.Bounds().Min).Add(at), img, img.Bounds().Min, draw.Src)
	return out
}

// TestPictureLimits: what is no picture, or claims to be a huge one, is refused
// before it is unpacked.
func TestPictureLimits(t *testing.T) {
	for _, tt := range []struct {
		name string
		file []byte
		want error
	}{
		{"nothing", nil, photo.ErrFormat},
		{"text", []byte("0109521234543213"), photo.ErrFormat},
		{"too many bytes", make([]byte, photo.MaxBytes+1), photo.ErrTooLarge},
		{"too many pixels", pngClaiming(60_000, 60_000), photo.ErrTooLarge},
		{"sides whose product overflows", pngClaiming(1<<31-1, 1<<31-1), photo.ErrFormat},
		{"cut off", pngClaiming(100, 100), photo.ErrFormat},
		{"tiny", pngOf(t, white(3, 3)), photo.ErrNotFound},
		{"empty", pngOf(t, white(300, 200)), photo.ErrNotFound},
	} {
		_, err := photo.Decode(t.Context(), bytes.NewReader(tt.file))
		assert.ErrorIs(t, err, tt.want, tt.name)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := photo.Decode(ended, bytes.NewReader(pngOf(t, white(300, 200))))
	assert.ErrorIs(t, err, photo.ErrNotFound)
	_, err = photo.Decode(t.Context(), failing{})
	assert.ErrorIs(t, err, assert.AnError)
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, assert.AnError }

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

// pngClaiming is a PNG whose header gives it a size, with nothing behind it.
func pngClaiming(w, h uint32) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := binary.BigEndian.AppendUint32([]byte("IHDR"), w)
	chunk = append(binary.BigEndian.AppendUint32(chunk, h), 8, 0, 0, 0, 0)
	_ = binary.Write(&b, binary.BigEndian, uint32(13))
	b.Write(chunk)
	_ = binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(chunk))
	return b.Bytes()
}

// TestOtherSymbols: what is no GS1 symbol is marked so, and QR is read.
func TestOtherSymbols(t *testing.T) {
	for kind, want := range map[string]string{"71": "]d1", "20": "]C0", "58": ""} {
		const label = "+A99912340/$$3270614X1"
		text := label + "J"
		got, err := photo.Find(t.Context(), zint(t, kind, text))
		require.NoError(t, err)
		assert.Equal(t, want+text, got.Text)
	}
}

// FuzzPhoto looks for a symbol in small pictures of whatever is there, and in whatever is sent for a picture.
func FuzzPhoto(f *testing.F) {
	f.Add([]byte("\x89PNG\r\n\x1a\n"), uint8(30))
	f.Add(bytes.Repeat([]byte{0, 255}, 800), uint8(40))
	f.Fuzz(func(t *testing.T, data []byte, width uint8) {
		ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
		defer cancel()
		_, _ = photo.Decode(ctx, bytes.NewReader(data)) // an error is an answer
		w := 20 + int(width)%60
		img := image.NewGray(image.Rect(0, 0, w, 20+len(data)/w%60))
		copy(img.Pix, data)
		if r, err := photo.Find(ctx, img); err == nil {
			assert.NotEmpty(t, r.Text)
		}
	})
}
