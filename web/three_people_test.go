package web

import (
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hand counts what a person does: taps on a phone, keys and scans at a desk.
// A scan is one action: the scanner types the text and Enter.
type hand struct {
	*browser
	actions int
}

// tap taps something that leads to another page.
func (h *hand) tap(selector string) {
	h.t.Helper()
	h.actions++
	_, err := chromedp.RunResponse(h.ctx, chromedp.Tap(selector))
	require.NoError(h.t, err, selector)
}

// scan sends a text and Enter to whatever has the focus, as a scanner does.
func (h *hand) scan(text string) {
	h.t.Helper()
	h.actions++
	_, err := chromedp.RunResponse(h.ctx, chromedp.KeyEvent(text), chromedp.KeyEvent(kb.Enter))
	require.NoError(h.t, err, text)
}

// ready waits until a field has the focus, which a page gives it once it is
// drawn, and that may be after it has loaded.
func (h *hand) ready(field string) {
	h.t.Helper()
	h.until("the focus is on "+field, `document.activeElement.name === "`+field+`"`)
}

// tabTo presses Tab until the focus is on something, and asserts that the
// focus can be seen at each stop.
func (h *hand) tabTo(selector string) {
	h.t.Helper()
	for range 80 {
		h.do(chromedp.KeyEvent(kb.Tab))
		at := ask[string](h.browser, `document.activeElement.outerHTML.slice(0, 90)`)
		require.True(h.t, ask[bool](h.browser, `(e => { let s = getComputedStyle(e); return s.outlineStyle !== "none" && `+
			`parseFloat(s.outlineWidth) >= 2 })(document.activeElement)`), "no focus to be seen on %s", at)
		if ask[bool](h.browser, `document.activeElement.matches(`+"`"+selector+"`"+`)`) {
			return
		}
	}
	h.t.Fatalf("no Tab leads to %s", selector)
}

// enter follows what has the focus.
func (h *hand) enter() {
	h.t.Helper()
	_, err := chromedp.RunResponse(h.ctx, chromedp.KeyEvent(kb.Enter))
	require.NoError(h.t, err)
}

// The three people's main paths in one browser: the crew with a thumb on a
// small phone, the others with the keyboard at a desk.
func TestThreePeople(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	// On a slow machine the worker would show a page that it kept; what it does
	// has tests of its own.
	_, err := chromedp.Call(b.ctx, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true})
	require.NoError(t, err)
	t.Run("crew", func(t *testing.T) { b.t = t; crewPath(w, &hand{browser: b}) })
	t.Run("crew, no script", func(t *testing.T) { b.t = t; crewPlain(w, &hand{browser: b}) })
	t.Run("quartermaster", func(t *testing.T) { b.t = t; storePath(w, &hand{browser: b}) })
	t.Run("manager", func(t *testing.T) { b.t = t; managerPath(w, &hand{browser: b}) })
}

// A sealed bag in order takes at most two taps from the address that its label
// holds; what is true stands at the top, the button lies under the thumb.
func crewPath(w *world, h *hand) {
	t := h.t
	h.size(360, 640)
	h.as(w, "Kim Crew")
	h.open("/B/CEN-01")
	assert.Equal(t, "OK to go out", ask[string](h.browser, `document.querySelector("h1").innerText`))
	assert.True(t, ask[bool](h.browser, `document.querySelector("h1").getBoundingClientRect().bottom < 320`),
		"what is true stands in the upper half")
	h.tap(".actions button.main")
	h.sees("Seal check recorded.")
	assert.LessOrEqual(t, h.actions, 2)
	h.open("/b/CEN-03")
	assert.Contains(t, ask[string](h.browser, `document.querySelector("h1").innerText`),
		"Tourniquet, windlass, adult: 1 of 2")
}

// Without a script the same taps do the same.
func crewPlain(w *world, h *hand) {
	t := h.t
	script := func(off bool) {
		_, err := chromedp.Call(h.ctx, emulation.SetScriptExecutionDisabled,
			emulation.SetScriptExecutionDisabledParams{Value: off})
		require.NoError(t, err)
	}
	script(true)
	defer script(false)
	h.as(w, "Kim Crew")
	h.open("/b/CEN-02")
	assert.False(t, ask[bool](h.browser, `document.documentElement.classList.contains("js")`))
	h.tap(".actions button.main")
	h.sees("Seal check recorded.")
	assert.Equal(t, 1, h.actions)
}

// From the desk to the bag and through its restock without a mouse: one scan
// for each lot to put in, one for the new seal.
func storePath(w *world, h *hand) {
	t := h.t
	h.size(1280, 800)
	h.as(w, "Quinn Master")
	h.open("/store")
	h.tabTo(`a[href="/bags/CEN-03/restock"]`)
	h.enter()
	lots := map[string]bool{}
	for _, name := range ask[[]string](h.browser,
		`[...document.querySelectorAll("input[name$='.ticked']")].map(e => e.name)`) {
		id, _, _ := strings.Cut(strings.TrimPrefix(name, inPrefix), "@")
		lots[id] = true
	}
	require.GreaterOrEqual(t, len(lots), 3)
	h.actions = 0
	for name, id := range w.lots {
		if lots[formatID(id)] {
			item, number, _ := strings.Cut(name, "/")
			if number == "" { // loose units: their shelf has a label
				number = h.url + "/s/CEN-STORE/" + item
			}
			h.ready("scan")
			h.scan(number)
			assert.NotContains(t, h.text(), "not on the list", name)
		}
	}
	assert.Zero(t, ask[int](h.browser, `document.querySelectorAll("input[name$='.ticked']:not(:checked)").length`))
	h.ready("seal_set") // all is picked
	h.scan("300777")
	h.sees("Restock recorded.")
	assert.LessOrEqual(t, h.actions, len(lots)+2)
	h.sees("OK to go out")
	h.tabTo(`a[href="/store"]`)
	h.enter()
	h.sees("Store")
}

// From the report to what stops a bag next, and to the rows behind a number.
func managerPath(w *world, h *hand) {
	t := h.t
	h.size(1280, 800)
	h.as(w, "Max Manager")
	h.open("/report")
	h.tabTo(`a[href="/year"]`)
	h.enter()
	h.sees("from 1 Oct 2027: Not ready. Reason: Plain dressing, 10 × 10 cm, batch D2")
	drawn := ask[[]float64](h.browser,
		`[...document.querySelectorAll(".years .strip")].map(e => e.getBoundingClientRect().width)`)
	require.NotEmpty(t, drawn)
	for _, width := range drawn {
		assert.Greater(t, width, 300.0)
	}
	h.tabTo(`.years a[href^="/lots/"]`)
	h.enter()
	h.sees("batch")
	h.open("/flows")
	h.tabTo(`a[href^="/flows/rows?"]`)
	h.enter()
	h.sees("units")
	h.open("/checks")
	h.tabTo(`a[href$="/history"]`)
	h.enter()
	h.sees("Full check")
}
