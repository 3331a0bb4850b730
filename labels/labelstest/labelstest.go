// Package labelstest reads printed labels back for tests, with tools that know nothing of how they were made: poppler
// turns the PDF into pictures, zbar and gozxing decode the symbols on them.
package labelstest

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// Tool finds a program, as of poppler-utils or zbar-tools. Without it the test is
// skipped, or fails where nothing may be skipped.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatalf("%s is not installed and STOWKEEPER_NO_SKIP is set", name)
	}
	t.Skipf("%s is not installed", name)
	return ""
}

// Rasterise turns a PDF into grey pictures with poppler, one a page.
func Rasterise(t testing.TB, pdf []byte, dpi int) []*image.Gray {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "labels.pdf")
	must(t, os.WriteFile(file, pdf, 0o600))
	if out, err := exec.Command(Tool(t, "pdftoppm"), "-gray", "-r", fmt.Sprint(dpi), file, filepath.Join(dir,
		"page")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v: %s", err, out)
	}
	names, err := filepath.Glob(filepath.Join(dir, "page*.pgm"))
	must(t, err)
	sort.Strings(names)
	var pictures []*image.Gray
	for _, name := range names {
		data, err := os.ReadFile(name)
		must(t, err)
		pictures = append(pictures, readPGM(t, data))
	}
	return pictures
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func readPGM(t testing.TB, data []byte) *image.Gray {
	t.Helper()
	var w, h, top int
	_, err := fmt.Sscanf(string(data[:min(len(data), 40)]), "P5\n%d %d\n%d\n", &w, &h, &top)
	must(t, err)
	if top != 255 {
		t.Fatalf("a picture with %d shades", top+1)
	}
	return &image.Gray{Pix: data[len(data)-w*h:], Stride: w, Rect: image.Rect(0, 0, w, h)}
}

// Cropped copies the part r of a picture.
func Cropped(img *image.Gray, r image.Rectangle) *image.Gray {
	r = r.Intersect(img.Bounds())
	out := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := range r.Dy() {
		copy(out.Pix[y*out.Stride:], img.Pix[(r.Min.Y+y)*img.Stride+r.Min.X:][:r.Dx()])
	}
	return out
}

// Zbar decodes pictures with zbarimg, all in one run, and returns how often it read what.
func Zbar(t testing.TB, pictures []*image.Gray) map[string]int {
	t.Helper()
	dir := t.TempDir()
	args := []string{"--nodbus", "-q", "--raw", "-Sdisable", "-Sqrcode.enable"}
	for i, img := range pictures {
		name := filepath.Join(dir, fmt.Sprintf("%03d.pgm", i))
		data := fmt.Appendf(nil, "P5\n%d %d\n255\n", img.Bounds().Dx(), img.Bounds().Dy())
		must(t, os.WriteFile(name, append(data, img.Pix...), 0o600))
		args = append(args, name)
	}
	var out, complaints bytes.Buffer
	cmd := exec.Command(Tool(t, "zbarimg"), args...)
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil && complaints.Len() > 0 { // it exits with 4 when a picture held nothing
		t.Fatalf("zbarimg: %v: %s", err, &complaints)
	}
	read := map[string]int{}
	for _, line := range strings.Fields(out.String()) {
		read[line]++
	}
	return read
}

// Gozxing reads the one symbol of a picture; it is empty when none is found. Black is told from white by what is near
// each point, or by the picture as a whole.
func Gozxing(img image.Image, whole bool) string {
	source := gozxing.NewLuminanceSourceFromImage(img)
	binary := gozxing.NewHybridBinarizer(source)
	if whole {
		binary = gozxing.NewGlobalHistgramBinarizer(source)
	}
	bmp, err := gozxing.NewBinaryBitmap(binary)
	if err != nil {
		return ""
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	result, err := qrcode.NewQRCodeReader().Decode(bmp, hints)
	if err != nil {
		return ""
	}
	return result.GetText()
}
