package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The browser itself finds that the pages can be installed as an app, which then opens without signal.
func TestInstallable(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.do(chromedp.Navigate(b.url + "/board")) // once more, with the worker in charge
	// the board is where an app begins
	m, err := chromedp.Call(b.ctx, cdpage.GetAppManifest, cdpage.GetAppManifestParams{})
	require.NoError(t, err)
	assert.Empty(t, m.Errors)
	var app struct {
		StartURL string `json:"start_url"`
		Icons    []struct{ Src, Sizes, Purpose string }
	}
	require.NoError(t, json.Unmarshal([]byte(m.Data), &app))
	require.Len(t, app.Icons, 3)
	not, err := chromedp.Call(b.ctx, cdpage.GetInstallabilityErrors, cdp.Empty{})
	require.NoError(t, err)
	for _, e := range not.InstallabilityErrors {
		assert.Equal(t, "in-incognito", e.ErrorID, "all else is in order")
	}
	c := w.stranger()
	for _, i := range app.Icons {
		assert.Equal(t, "image/png", c.get(i.Src).res.Header().Get("Content-Type"), i.Src)
	}
	c.get(strings.TrimPrefix(m.URL, b.url))
	assert.Equal(t, http.StatusOK, c.res.Code)
	assert.Equal(t, "application/manifest+json", c.res.Header().Get("Content-Type"))
	b.offline(true)
	b.open(app.StartURL)
	b.at("/board")
	b.sees("CEN-01")
}

const noneWait = `(async () => !(await new Promise(yes => indexedDB.open("stowkeeper").onsuccess = e => ` +
	`e.target.result.transaction("waiting").objectStore("waiting").count().onsuccess = n => ` +
	`yes(n.target.result))))()`

// Another version of the worker takes over while a record waits: it is still there, the icon bears its number, and it
// is sent once.
func TestNewWorkerWhileRecordsWait(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.kept(4)
	b.offline(true)
	b.taken()
	ask[bool](b, `document.querySelector(".actions form button").click() || true`)
	b.sees("not sent yet")
	checks, _ := w.recordsOf("CEN-01")
	had := len(checks)
	b.do(chromedp.Evaluate[chromedp.Void](`window.badges = []; navigator.setAppBadge = async n => { badges.push(n); }`))
	ask[bool](b, `new BroadcastChannel("stowkeeper").postMessage("changed") || true`)
	b.until("the icon's number", `badges.includes(1)`)

	w.noPosts.Store(true)
	w.newWorker.Store(true)
	b.offline(false)
	b.until("another worker", `navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => `+
		`caches.keys()).then(k => k.filter(n => n.startsWith("shell ")).length === 2, () => false)`)
	checks, _ = w.recordsOf("CEN-01")
	assert.Len(t, checks, had, "it waits all the same")
	w.noPosts.Store(false)
	b.open("/b/CEN-01")
	// Chromium stops a tab for good now and then while its worker is replaced: whoever closes it goes on in another.
	ctx, stop := context.WithTimeout(b.ctx, 20*time.Second)
	defer stop()
	sent, err := false, error(nil)
	for ; err == nil && !sent; time.Sleep(100 * time.Millisecond) {
		sent, err = chromedp.Run(ctx, chromedp.Evaluate[bool](noneWait, chromedp.EvalAwaitPromise))
	}
	if !sent {
		t.Logf("the tab stopped, and another one is opened: %v", err)
		var shut func()
		b.ctx, shut = chromedp.NewContext(b.ctx)
		t.Cleanup(shut)
		b.open("/b/CEN-01")
	}
	b.until("it was sent", noneWait)
	checks, _ = w.recordsOf("CEN-01")
	assert.Len(t, checks, had+1)
}
