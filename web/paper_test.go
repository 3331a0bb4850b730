package web

import (
	"fmt"
	"image"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/labels/labelstest"
)

var sheetSymbol = regexp.MustCompile(`<svg viewBox="0 0 (\d+) \d+"[^>]*><path d="([^"]+)"`)

// printedSymbol is the symbol of a sheet as a printer draws it, 8 dots a module.
func printedSymbol(t *testing.T, side int, path string) *image.Gray {
	t.Helper()
	const dots = 8
	img := image.NewGray(image.Rect(0, 0, side*dots, side*dots))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for run := range strings.SplitSeq(strings.TrimSuffix(path, "z"), "z") {
		var x, y, n, back int
		_, err := fmt.Sscanf(run, "M%d %dh%dv1h-%d", &x, &y, &n, &back)
		require.NoError(t, err, run)
		for row := y * dots; row < (y+1)*dots; row++ {
			clear(img.Pix[row*img.Stride+x*dots:][:n*dots])
		}
	}
	return img
}

// Whoever scans a sheet of paper comes to the form on which it is typed in, and nothing on the sheet is a field.
func TestPaperLeadsToItsForm(t *testing.T) {
	labelstest.Tool(t, "zbarimg")
	w := newWorld(t)
	c := w.as("Quinn Master")
	for kind, wants := range map[string]string{"check": `name="happened_at"`, "use": `name="happened_at"`,
		"count": `action="/counts"`, "restock": `action="/bags/CEN-0`} {
		page := c.get("/paper?kind=" + kind).res.Body.String()
		for _, sheet := range strings.Split(page, `<section class="sheet">`)[1:] {
			assert.NotContains(t, strings.Split(sheet, "</section>")[0], "<input", kind)
		}
		var pictures []*image.Gray
		symbols := sheetSymbol.FindAllStringSubmatch(page, -1)
		require.NotEmpty(t, symbols, kind)
		for _, m := range symbols {
			side, err := strconv.Atoi(m[1])
			require.NoError(t, err)
			pictures = append(pictures, printedSymbol(t, side, html.UnescapeString(m[2])))
		}
		read := labelstest.Zbar(t, pictures)
		assert.Len(t, read, len(symbols), "%s: each sheet has its own", kind)
		walks := 0
		for address := range read {
			path, ok := strings.CutPrefix(address, w.options().BaseURL)
			require.True(t, ok, address)
			if strings.HasPrefix(path, "/paper?") {
				walks++
				continue // the walk, of which each bag is typed in by its own sheet
			}
			c.get(path)
			assert.Equal(t, 200, c.res.Code, path)
			assert.Contains(t, c.res.Body.String(), wants, path)
		}
		assert.Equal(t, map[bool]int{true: 1}[kind == "restock"], walks, kind)
	}
}

// An address that is too long for a symbol that a phone can read is written in its place.
func TestPaperWithoutSymbol(t *testing.T) {
	w := newWorld(t)
	o := w.options()
	o.BaseURL = "https://" + strings.Repeat("long.", 40) + "example"
	w.router = gin.New()
	require.NoError(t, Mount(w.router, w.svc, o))
	page := w.as("Quinn Master").get("/paper?kind=check").text()
	assert.Contains(t, page, o.BaseURL+"/b/CEN-02/full-check")
}
