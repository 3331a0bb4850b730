package web

import (
	"bytes"
	"fmt"
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/labels"
)

// A crew reads the next bag's label by a photo, from the page of the bag at hand; at another station's bag they are
// told which it is and whose.
func TestPhotoOfALabel(t *testing.T) {
	w := newWorld(t)
	kim := w.as("Kim Crew")
	photoOf := func(text string) []byte {
		var b bytes.Buffer
		_, err := labels.WritePNG(&b, labels.Bag{Address: text, Code: "CEN-02", Name: "Trauma bag 2"},
			labels.Size{W: 63.5, H: 38.1}, 300)
		require.NoError(t, err)
		return b.Bytes()
	}
	assert.Contains(t, kim.get("/b/CEN-01").res.Body.String(), `href="/scan"`)
	kim.upload("/scan", "", photoOf("https://stock.example.org/b/CEN-02"))
	assert.Equal(t, "/b/CEN-02", kim.location(), kim.text())
	kim.upload("/scan", "", photoOf("https://other.example.org/K22-0744"))
	assert.Equal(t, "/search?q=https%3A%2F%2Fother.example.org%2FK22-0744", kim.location())
	kim.upload("/scan", "", []byte("no picture"))
	assert.Equal(t, http.StatusUnprocessableEntity, kim.res.Code)
	assert.Contains(t, kim.text(), "no JPEG or PNG picture")
	kim.upload("/scan", "", photoOf("https://stock.example.org/b/NOR-01")).follow()
	assert.Equal(t, http.StatusForbidden, kim.res.Code)
	assert.Contains(t, kim.text(), "NOR-01 is Trauma bag north, of North station: not at your stations")
	assert.NotContains(t, kim.text(), "needs", "and no more than that")
}

// The camera reads labels without signal too. Where a phone was at work on a vehicle, the bag of another one says which
// it is and whose, by whatever camera it was scanned.
func TestScanningTheNextLabel(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w, chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true))
	b.before(fmt.Sprintf(finder, `["qr_code"]`) + `window.seen = "HTTPS://STOCK.EXAMPLE.ORG/B/CEN-02";`)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.until("the scan page is kept", `caches.match("/scan").then(r => !!r)`)
	const wrong = `document.querySelector(".wrong")?.innerText || ""`
	b.open("/b/CEN-01")
	b.press(".actions button.main")
	b.sees("Seal check recorded.")
	b.until("the phone knows where it is at work", `!!localStorage.getItem("at work")`)
	assert.Empty(t, ask[string](b, wrong))
	b.offline(true)
	b.press(`.actions a[href="/scan"]`)
	b.do(chromedp.Click(".camera .start"))
	b.at("/b/CEN-02")
	b.until("which bag it is", `(`+wrong+
		`) === "Not on Vehicle 01: this is CEN-02, Trauma bag 2, Vehicle 02, Central station"`)
	ask[bool](b, `document.querySelector(".actions form button").click() || true`)
	b.sees("Seal check not sent yet")
	b.until("at work on this one", `!document.querySelector(".wrong")`)
	b.open("/b/CEN-01")
	b.until("not on that one any more", `(`+wrong+`).startsWith("Not on Vehicle 02: this is CEN-01")`)
}
