package main

import (
	"image"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
	"stowkeeper/labels/labelstest"
)

// raced is true under the race detector, where decoding takes ten times as
// long: a sample is decoded then.
var raced bool

// TestLabelsOpenTheirPages goes the whole way: the PDF comes from the API, is
// turned into a picture, both decoders read exactly the address on every
// symbol, and the address opens the page of what the label is on.
func TestLabelsOpenTheirPages(t *testing.T) {
	labelstest.Tool(t, "pdftoppm")
	labelstest.Tool(t, "zbarimg")
	c := compose(t)
	addDevices(t, c.svc)
	token, session := c.token(inventory.Manager), c.session(inventory.Quartermaster)
	sheets, resolutions := labels.Sheets(), []int{300, 203}
	if raced {
		sheets, resolutions = sheets[:1], resolutions[1:]
	}
	read := 0
	for query, ask := range map[string]storeroom.LabelAsk{
		"kind=bag":                     {Kind: storeroom.LabelBag},
		"kind=card":                    {Kind: storeroom.LabelCard},
		"kind=shelf&place=N1-STORE":    {Kind: storeroom.LabelShelf, Place: "N1-STORE"},
		"kind=shelf&place=N1-TRAINING": {Kind: storeroom.LabelShelf, Place: "N1-TRAINING"},
		"kind=device":                  {Kind: storeroom.LabelDevice},
	} {
		facts, err := c.svc.Storeroom.Labels(t.Context(), inventory.Actor{Name: "test", Role: inventory.Manager,
			Stations: []string{"N1"}}, ask)
		require.NoError(t, err)
		require.NotEmpty(t, facts, query)
		for _, s := range sheets {
			start := min(2, s.PerPage())
			path := "/api/v1/labels.pdf?" + query + "&sheet=" + s.Name + "&start=" + strconv.Itoa(start)
			rec := c.do(http.MethodGet, path, "", "Authorization", "Bearer "+token)
			require.Equal(t, http.StatusOK, rec.Code, "%s: %s", path, rec.Body)
			for _, dpi := range resolutions {
				var pictures []*image.Gray
				pages := labelstest.Rasterise(t, rec.Body.Bytes(), dpi)
				for i := range facts {
					at := start - 1 + i
					pictures = append(pictures, labelAt(pages[at/s.PerPage()], s, at%s.PerPage(), dpi))
				}
				byZbar := labelstest.Zbar(t, pictures)
				assert.Len(t, byZbar, len(facts), "%s: nothing else is read", path)
				for i, f := range facts {
					address := labels.Link("https://kit.example.org", f.Path)
					assert.Equal(t, 1, byZbar[address], "zbar: %s at %d dpi, label %d", path, dpi, i+1)
					assert.Equal(t, address, labelstest.Gozxing(pictures[i], false), "gozxing: %s at %d dpi, label %d", path, dpi, i+1)
					read++
				}
			}
		}
		for _, f := range facts {
			opensPage(t, c, session, f)
		}
	}
	t.Logf("%d symbols read by both decoders, %d sheets, at %d dpi", read, len(sheets), resolutions)
}

// labelAt is the picture of one label of a page.
func labelAt(page *image.Gray, s labels.Sheet, i, dpi int) *image.Gray {
	k := float64(dpi) / 25.4
	x, y := s.Position(i)
	return labelstest.Cropped(page, image.Rect(int(x*k), int(y*k), int((x+s.Label.W)*k), int((y+s.Label.H)*k)))
}

// opensPage follows the address of a label, as it is printed, all in lower
// case, and for a bag without its hyphen, to the page that it leads to.
func opensPage(t *testing.T, c *composed, session *http.Cookie, f storeroom.LabelFacts) {
	t.Helper()
	printed := "/" + f.Path
	ways := []string{printed, strings.ToUpper(printed), strings.ToLower(printed)}
	if f.Kind == storeroom.LabelBag {
		ways = append(ways, strings.ReplaceAll(printed, "-", ""), strings.ReplaceAll(printed, "-", "%20"))
	}
	for _, to := range ways {
		path, status := to, 0
		var page string
		for range 4 {
			rec := c.do(http.MethodGet, path, "", "Cookie", session.Name+"="+session.Value)
			status, page = rec.Code, rec.Body.String()
			next, err := url.Parse(rec.Header().Get("Location"))
			require.NoError(t, err)
			if status < 300 || status > 399 {
				break
			}
			path = next.RequestURI()
		}
		assert.Equal(t, http.StatusOK, status, "%s: %s", to, path)
		title, _, _ := strings.Cut(page, "</title>")
		for _, says := range []string{f.Name, f.Serial} {
			assert.Contains(t, title, says, "%s leads to %s", to, path)
		}
	}
}
