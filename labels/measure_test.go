package labels

import (
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/labels/labelstest"
)

// The symbols' corners, measured on the picture that poppler makes of the PDF
// (600 dpi, a pixel is 0.04 mm), are where the geometry of the sheet puts them.
func TestPositionsMeasuredOnThePicture(t *testing.T) {
	labelstest.Tool(t, "pdftoppm")
	s := sheet(t, "a4-3x7")
	list := thousand(false)[:s.PerPage()]
	const k = 600 / inch
	img := labelstest.Rasterise(t, printed(t, s, list, Options{OffsetX: -1, OffsetY: 2}), 600)[0]
	worst := 0.0
	for i := range list {
		x, y := s.Position(i)
		x, y = x-1, y+2
		left, top := firstDark(img.SubImage(image.Rect(int(x*k), int(y*k), int((x+s.Label.W)*k), int((y+s.Label.H)*k))))
		quiet := 2 + 4*34.1/37 // margin, and four modules of the symbol that fills 34.1 mm with 37
		offX, offY := float64(left)/k-x-quiet, float64(top)/k-y-quiet
		require.InDelta(t, 0, offX, gauge, "label %d", i+1)
		require.InDelta(t, 0, offY, gauge, "label %d", i+1)
		worst = max(worst, offX, -offX, offY, -offY)
	}
	t.Logf("worst of %d corners: %.3f mm", 2*len(list), worst)
}

// Texts are texts in the PDF, in the three scripts: they can be searched for
// and read aloud.
func TestTextsCanBeReadFromThePDF(t *testing.T) {
	pdftotext := labelstest.Tool(t, "pdftotext")
	bag := Bag{Code: "KD7-442", Name: "Łódź Ковалі Σταθμός", KitList: "Response bag", Edition: "2026-1",
		Address: Address("https://kit.example.org", "KD7-442")}
	file := filepath.Join(t.TempDir(), "labels.pdf")
	require.NoError(t, os.WriteFile(file, printed(t, sheet(t, "a4-2x2"), []Label{bag}, Options{}), 0o600))
	out, err := exec.Command(pdftotext, file, "-").CombinedOutput()
	require.NoError(t, err, string(out))
	for _, want := range []string{"KD7-442", "Łódź", "Ковалі", "Σταθμός", "Response bag, edition 2026-1",
		"KIT.EXAMPLE.ORG/B/KD7-442"} {
		assert.Contains(t, string(out), want)
	}
}
