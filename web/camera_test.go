package web

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// finder stands for a browser that finds codes by itself, which the one of
// these tests does not: it says that there is one wherever the picture is not
// of one colour, and leaves reading it to the service.
const finder = `window.BarcodeDetector = class {
	static getSupportedFormats() { return Promise.resolve(%s); }
	detect(video) { window.looked = (window.looked || 0) + 1;
		return Promise.resolve(window.blind ? [] : [{ rawValue: window.seen || "first" }]); }
};`

const allFormats = `["code_128", "data_matrix", "qr_code"]`

// before has a script run on each page before the page's own.
func (b *browser) before(script string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument,
		cdp.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	require.NoError(b.t, err)
}

// filmOf is a film of the test symbol as a phone's camera would see it, for the
// camera that Chromium plays.
func filmOf(t *testing.T) string {
	t.Helper()
	file, err := assetFiles.ReadFile("assets/separator-test.png")
	require.NoError(t, err)
	symbol, err := png.Decode(bytes.NewReader(file))
	require.NoError(t, err)
	frame := image.NewRGBA(image.Rect(0, 0, 640, 480))
	draw.Draw(frame, frame.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	at := symbol.Bounds().Add(image.Pt((640-symbol.Bounds().Dx())/2, (480-symbol.Bounds().Dy())/2))
	draw.Draw(frame, at, symbol, symbol.Bounds().Min, draw.Src)
	var one bytes.Buffer
	require.NoError(t, jpeg.Encode(&one, frame, &jpeg.Options{Quality: 95}))
	path := filepath.Join(t.TempDir(), "film.mjpeg")
	require.NoError(t, os.WriteFile(path, bytes.Repeat(one.Bytes(), 5), 0o600))
	return path
}

// cameraPage opens a delivery with the part for the camera unfolded.
func cameraPage(t *testing.T, script string, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	w := newWorld(t)
	d, err := w.svc.Storeroom.StartDelivery(t.Context(), admin, "CEN-STORE", "")
	require.NoError(t, err)
	b := newBrowser(t, w, more...)
	if script != "" {
		b.before(script)
	}
	b.as(w, "Quinn Master")
	b.open(deliveryPath(d.ID))
	b.do(chromedp.Click(".camera summary"))
	return b
}

// TestLiveCamera holds a pack before the camera: it becomes a line of the
// delivery, once while it stays there, and it is known when it comes again.
func TestLiveCamera(t *testing.T) {
	b := cameraPage(t, fmt.Sprintf(finder, allFormats), chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-video-capture", filmOf(t)))
	b.do(chromedp.Click(".camera .start"))
	b.waits("New code, serial SEPARATOR-TEST: 1 pack")
	looked := ask[int64](b, "window.looked")
	require.Eventually(t, func() bool { return ask[int64](b, "window.looked") > looked+3 }, 10*time.Second,
		50*time.Millisecond, "the camera goes on looking")
	assert.True(t, ask[bool](b, `(v => !v.paused && v.videoWidth > 0)(document.querySelector(".camera video"))`),
		"the picture goes on after the page has changed")
	assert.Contains(t, b.text(), "SEPARATOR-TEST: 1 pack")
	ask[bool](b, `window.seen = "another"; true`)
	b.waits("already scanned in this delivery")
	assert.Contains(t, b.text(), "1 pack, 1 to check")
	assert.False(t, ask[bool](b, `document.querySelector(".camera .start").checkVisibility()`))
	b.do(chromedp.Click(".camera .stop"))
	assert.True(t, ask[bool](b, `document.querySelector(".camera video").srcObject === null && `+
		`document.querySelector(".camera .start").checkVisibility()`))
}

// TestNoLiveCamera has the page offer a photo where the browser finds no codes,
// or not those of packs, and say in words why a camera cannot be used.
func TestNoLiveCamera(t *testing.T) {
	const live, photo = `document.querySelector(".camera .live").checkVisibility()`,
		`document.getElementById("f-photo").checkVisibility()`
	b := cameraPage(t, `const as = new URLSearchParams(location.search).get("as");
		if (as) { `+fmt.Sprintf(finder, `as === "qr" ? ["qr_code"] : `+allFormats)+` }
		navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("", as));`)
	for as, says := range map[string]string{"": "", "qr": "", "NotAllowedError": "Camera not allowed.",
		"NotFoundError": "Camera not available."} {
		b.open(ask[string](b, "location.pathname") + "?as=" + as)
		b.do(chromedp.Click(".camera summary"))
		if says != "" {
			b.do(chromedp.Click(".camera .start"))
			b.waits(says)
			assert.Contains(t, b.text(), "photo", as)
		}
		assert.Equal(t, says != "", ask[bool](b, live), as)
		assert.True(t, ask[bool](b, photo), as)
	}
}
