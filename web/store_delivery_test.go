package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/barcode/photo"
)

// scans types as a scanner does: all of a code at once, then Enter, wherever
// the person last tapped; and waits until the page shows what became of it.
func (b *browser) scans(code, shows string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(code + "\r"))
	b.waits(shows)
}

// waits waits until the page says something.
func (b *browser) waits(shows string) {
	b.t.Helper()
	require.Eventually(b.t, func() bool { return strings.Contains(b.text(), shows) }, 10*time.Second, 50*time.Millisecond,
		"%s\nis not on:\n%s", shows, b.text())
}

// TestDeliveryOfFivePacks receives five packs by scanning and tapping alone:
// two alike, one of a code that is new here, one dressing past its day, one
// medicine past its day.
func TestDeliveryOfFivePacks(t *testing.T) {
	w := newWorld(t)
	for _, pr := range []inventory.Product{{Item: "PLAIN", GTIN: "09521234543213", PackSize: 10}, {Item: "PAIN",
		GTIN: "09520000000028", PackSize: 16}} {
		_, err := w.svc.Lists.CreateProduct(t.Context(), admin, pr)
		require.NoError(t, err)
	}
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	b.open("/receive")
	b.press(`form[action="/deliveries"] button.main`)
	b.do(chromedp.WaitReady("#delivery"))
	const focused = `document.activeElement.id === "f-text"`
	assert.True(t, ask[bool](b, focused), "the field has the focus without a tap")

	b.scans("01095212345432131728022910D7", "Plain dressing, 10 × 10 cm, batch D7: 1 pack")
	b.do(chromedp.Click("h1")) // the focus is elsewhere
	b.scans("01095212345432131728022910D7", "batch D7: 2 packs")
	assert.True(t, ask[bool](b, focused))
	b.scans("01095200000000111730063010N1", "New code, batch N1: 1 pack")
	b.scans("01095212345432131726103110D5", "Expired: cannot go into Central station store.")
	b.scans("01095200000000281726103110M5", "cannot go to training")
	require.Contains(t, b.text(), "5 packs, 3 to check")
	assert.LessOrEqual(t, ask[int64](b, "document.documentElement.scrollWidth"), int64(360))

	// A scan that is not taken stays on the page until somebody has seen it.
	b.scans("01095212345432131728022910D7", "batch D7: 3 packs")
	b.scans("0109521234543214", "a character is wrong or missing")
	b.scans("01095212345432131728022910D8", "batch D8: 1 pack")
	assert.Contains(t, b.text(), "Rejected\n")
	assert.Contains(t, ask[string](b, `document.getElementById("refused").innerText`), "a character is wrong or missing")
	b.do(chromedp.Click("#refused button"))
	assert.NotContains(t, b.text(), "Rejected")
	for _, lot := range []string{"D8", "D7"} {
		id := ask[string](b,
			strings.Replace(`[...document.querySelectorAll(".pack")].find(p => p.innerText.includes("batch %s")).id`, "%s", lot,
				1))
		if lot == "D8" {
			b.press(`[id="` + id + `"] button.plain`)
			continue
		}
		n := strings.TrimPrefix(id, "line.")
		b.do(chromedp.Click(`[id="`+id+`"] summary`), chromedp.SetValue(`[name="packs.`+n+`"]`, "2"))
		b.press(`[id="` + id + `"] details button`)
	}
	require.Contains(t, b.text(), "5 packs, 3 to check")

	// Nothing is put away while something is in the way.
	b.press(".putaway button")
	assert.Contains(t, b.text(), "ome packs need attention")
	assert.Equal(t, int64(0), b.unitsOf(w, "D7"))

	const line = `[...document.querySelectorAll(".pack")].find(p => p.innerText.includes("batch %s"))`
	of := func(lot string) string { return strings.Replace(line, "%s", lot, 1) }
	assert.Equal(t, "Dispose", ask[string](b, of("M5")+`.querySelector(".buttons").innerText.trim()`),
		"a medicine is disposed of only")
	for lot, way := range map[string]string{"D5": "training", "M5": "disposed"} {
		id := ask[string](b, of(lot)+".id")
		b.press(`[id="` + id + `"] button[value="` + way + `"]`)
	}
	id := ask[string](b, of("N1")+".id")
	n := strings.TrimPrefix(id, "line.")
	b.do(chromedp.SetValue(`[name="item.`+n+`"]`, "SHEARS"), chromedp.SetValue(`[name="pack_size.`+n+`"]`, "5"))
	b.press(`[id="` + id + `"] button.main`)
	assert.Contains(t, b.text(), "Shears\n")
	b.press(".putaway button")
	b.waits("5 packs put away")
	assert.Equal(t, []int64{20, 5, 10, 0}, []int64{b.unitsOf(w, "D7"), b.unitsOf(w, "N1"), b.unitsOf(w, "D5"), b.unitsOf(w,
		"M5")})

	// The code that was new is known from now on.
	b.open("/receive")
	b.press(`form[action="/deliveries"] button.main`)
	b.scans("01095200000000111730063010N2", "Shears, batch N2: 1 pack")
}

// unitsOf is how many units of a batch number are in the service.
func (b *browser) unitsOf(w *world, batchNo string) int64 {
	b.t.Helper()
	lots, err := w.svc.Stock.Lots(b.t.Context(), admin, inventory.LotFilter{BatchNo: batchNo}, 0, inventory.Page{})
	require.NoError(b.t, err)
	n := 0
	for _, l := range lots {
		for _, at := range l.Where {
			n += at.Qty
		}
	}
	return int64(n)
}

// TestSeparatorKey: a scanner that sends the separator as Ctrl-] needs no
// learning, and fast scans wait for each other.
func TestSeparatorKey(t *testing.T) {
	w := newWorld(t)
	_, err := w.svc.Lists.CreateProduct(t.Context(), admin, inventory.Product{Item: "PLAIN", GTIN: "09521234543213",
		PackSize: 10})
	require.NoError(t, err)
	d, err := w.svc.Storeroom.StartDelivery(t.Context(), admin, "CEN-STORE", "")
	require.NoError(t, err)
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	b.open(deliveryPath(d.ID))
	const ctrl = `document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "]", code: "BracketRight", ` +
		`ctrlKey: true, bubbles: true, cancelable: true}))`
	b.do(chromedp.KeyEvent("010952123454321310D7"))
	ask[bool](b, ctrl)
	b.do(chromedp.KeyEvent("17280229\r" + "01095212345432131728022910D8\r" + "01095212345432131728022910D8\r"))
	b.waits("batch D8: 2 packs")
	assert.Contains(t, b.text(), "batch D7, use by 29 Feb 2028")
	assert.Contains(t, b.text(), "This scanner sends it unchanged as separator.")
}

// upload sends a file as the photo form does.
func (c *client) upload(path, key string, file []byte) *client {
	c.t.Helper()
	return c.frame(path, key, file, "")
}

// frame sends a picture of the camera with what the browser read on it.
func (c *client) frame(path, key string, file []byte, text string) *client {
	c.t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	require.NoError(c.t, m.WriteField("key", key))
	require.NoError(c.t, m.WriteField("text", text))
	part, err := m.CreateFormFile("photo", "photo.jpg")
	require.NoError(c.t, err)
	_, err = part.Write(file)
	require.NoError(c.t, err)
	require.NoError(c.t, m.Close())
	r := httptest.NewRequest(http.MethodPost, path, &body)
	r.Header.Set("Content-Type", m.FormDataContentType())
	return c.do(r)
}

// TestPhoto reads the test symbol of the scanner page as a photo.
func TestPhoto(t *testing.T) {
	symbol, err := assetFiles.ReadFile("assets/separator-test.png")
	require.NoError(t, err)
	got, err := photo.Decode(t.Context(), bytes.NewReader(symbol))
	require.NoError(t, err)
	assert.Equal(t, "]d2"+barcode.SeparatorTest, got.Text)

	w := newWorld(t)
	d, err := w.svc.Storeroom.StartDelivery(t.Context(), admin, "CEN-STORE", "")
	require.NoError(t, err)
	path := deliveryPath(d.ID) + "/photo"
	c := w.as("Quinn Master").upload(path, "k1", symbol)
	require.Equal(t, http.StatusSeeOther, c.res.Code, c.text())
	assert.Contains(t, c.follow().text(), "New code, serial SEPARATOR-TEST: 1 pack")
	c.upload(path, "k1", symbol)
	assert.Contains(t, c.follow().text(), "1 × New code", "sent again, it counts once")

	for _, tt := range []struct {
		file []byte
		says string
	}{
		{[]byte("no picture"), "no JPEG or PNG picture"},
		{make([]byte, photo.MaxBytes+1), "picture is too large"},
		{make([]byte, maxPhotoForm+1), "picture is too large"},
		{nil, "no JPEG or PNG picture"},
	} {
		c.upload(path, "k2", tt.file)
		assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
		assert.Contains(t, c.text(), tt.says)
	}
	// What the browser read itself is taken where no separator can be missing.
	for text, taken := range map[string]bool{"0109521234543213": true, "0109521234543213172802291010L": false,
		"010952123454321310L1\x1d17280229": true, "x": false} {
		c.frame(path, "k4"+text, []byte("no picture"), text)
		assert.Equal(t, taken, c.res.Code == http.StatusSeeOther, "%q: %s", text, c.text())
	}
	stranger := w.stranger().upload(path, "k3", symbol)
	assert.Equal(t, http.StatusUnauthorized, stranger.res.Code)
	assert.Equal(t, http.StatusForbidden, w.as("Kim Crew").upload(path, "k3", symbol).res.Code)
}

// TestCameraOnOnePage: no other page may use the camera.
func TestCameraOnOnePage(t *testing.T) {
	w := newWorld(t)
	d, err := w.svc.Storeroom.StartDelivery(t.Context(), admin, "CEN-STORE", "")
	require.NoError(t, err)
	c := w.as("Quinn Master")
	for path, camera := range map[string]bool{deliveryPath(d.ID): true, "/receive": false, "/scanner": false,
		"/scan": true, "/b/CEN-01": false,
		"/store": false} {
		h := c.get(path).res.Header()
		assert.Equal(t, camera, h.Get("Permissions-Policy") == "camera=(self)", path)
		assert.Equal(t, !camera, strings.Contains(h.Get("Permissions-Policy"), "camera=()"), path)
	}
}
