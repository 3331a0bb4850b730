package web

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// browser is a Chromium of the size of a small phone.
type browser struct {
	t   *testing.T
	ctx context.Context
	url string
	cut atomic.Bool // the way to the server leads nowhere

	lasts time.Duration // before it is ended, six minutes if left out
	stop  func()
}

// newBrowser starts a browser and a server for it. Without Chromium the test
// is skipped, unless STOWKEEPER_NO_SKIP=1 says that it must not be.
func newBrowser(t *testing.T, w *world, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
			t.Fatal("no chromium, and STOWKEEPER_NO_SKIP=1")
		}
		t.Skip("no chromium on this machine")
	}
	b := &browser{t: t}
	b.url = serveOn(t, w, &b.cut)
	return b.start(path, more...)
}

// start starts the browser itself.
func (b *browser) start(path string, more ...chromedp.ExecAllocatorOption) *browser {
	t := b.t
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.UserDataDir(t.TempDir()))
	opts = append(opts, more...)
	ctx, end := context.WithTimeout(t.Context(), cmp.Or(b.lasts, 6*time.Minute))
	t.Cleanup(end)
	ctx, kill := chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(kill)
	var shut func()
	b.ctx, shut = chromedp.NewContext(ctx)
	t.Cleanup(shut)
	b.stop = func() { shut(); kill(); end() }
	b.size(360, 640)
	return b
}

// serveOn serves the pages on loopback, with that address as their base, while
// cut is not set.
func serveOn(t *testing.T, w *world, cut *atomic.Bool) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	opt := w.options()
	opt.BaseURL = "http://" + l.Addr().String()
	opt.DemoTerminal = w.terminal // the browser is on this machine
	r := gin.New()
	require.NoError(t, Mount(r, w.svc, opt))
	srv := &httptest.Server{Listener: l, Config: &http.Server{Handler: http.HandlerFunc(func(out http.ResponseWriter,
		in *http.Request) {
		if cut.Load() || w.noPosts.Load() && in.Method == http.MethodPost {
			panic(http.ErrAbortHandler) // breaks the connection off
		}
		if w.newWorker.Load() && in.URL.Path == "/worker.js" {
			in.Header.Del("Accept-Encoding")
			rec := httptest.NewRecorder()
			r.ServeHTTP(rec, in)
			maps.Copy(out.Header(), rec.Header())
			out.Header().Del("Content-Length")
			_, _ = out.Write(bytes.Replace(rec.Body.Bytes(), []byte(`"look":"`), []byte(`"look":"new `), 1))
			return
		}
		r.ServeHTTP(out, in)
	})}}
	srv.Start()
	t.Cleanup(srv.Close)
	return opt.BaseURL
}

func (b *browser) size(width, height int64) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: true})
	require.NoError(b.t, err)
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, steps...))
}

func (b *browser) open(path string) { b.t.Helper(); b.do(chromedp.Navigate(b.url + path)) }

// press taps something that leads to another page, and waits for it.
func (b *browser) press(selector string) {
	b.t.Helper()
	_, err := chromedp.RunResponse(b.ctx, chromedp.Click(selector))
	require.NoError(b.t, err, selector)
}

// tickAll looks at everything of a full check.
func (b *browser) tickAll() {
	b.t.Helper()
	ask[bool](b, `[...document.querySelectorAll(".seen input:not(:checked)")].forEach(e => e.click()) || true`)
}

func ask[T any](b *browser, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	require.NoError(b.t, err, script)
	return v
}

func (b *browser) text() string {
	b.t.Helper()
	return ask[string](b, "document.body?.innerText || ``")
}

// as signs a person in by giving the browser the cookie of a session.
func (b *browser) as(w *world, name string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{Name: "stowkeeper_session",
		Value: w.as(name).cookie.Value, URL: b.url})
	require.NoError(b.t, err)
}

// From the scan, a sealed bag in order takes one tap; the button lies in reach
// of the thumb without scrolling.
func TestOneTap(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/B/CEN-01")
	assert.Contains(t, b.text(), "OK to go out")
	assert.True(t, ask[bool](b, `(r => r.top > innerHeight / 2 && r.bottom <= `+
		`innerHeight)(document.querySelector(".actions button.main").getBoundingClientRect())`))
	b.press(".actions button.main")
	assert.Contains(t, b.text(), "Seal check recorded.")
}

// A count that differs opens the question why; one that is put right closes it.
func TestCountingByTouch(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	row := ".lotrow:first-of-type"
	why := `document.querySelector(".lotrow details").checkVisibility()`
	assert.False(t, ask[bool](b, why))
	b.do(chromedp.Click(row + " .stepper button:first-child"))
	assert.Equal(t, "1", ask[string](b, `document.querySelector(".lotrow input[type=number]").value`))
	assert.True(t, ask[bool](b, why))
	const progress = `document.querySelector(".progress").textContent`
	assert.Contains(t, ask[string](b, progress), "1 of ", "what was changed was looked at")
	b.do(chromedp.Click(".row:nth-of-type(2) .seen"))
	assert.Contains(t, ask[string](b, progress), "2 of ", "one touch confirms a line")
	assert.True(t, ask[bool](b, `(r => r.bottom <= innerHeight + 1 && r.top > innerHeight / `+
		`2)(document.querySelector(".progress").getBoundingClientRect())`), "always in sight")
	b.do(chromedp.Click(row + " .stepper button:last-child"))
	assert.False(t, ask[bool](b, why))
	b.do(chromedp.Click(row+" .stepper button:first-child"), chromedp.SetValue(row+" select", "missing"))
	b.tickAll()
	b.press("form.counts > button.main")
	assert.Contains(t, b.text(), "Full check recorded.")
	assert.Contains(t, b.text(), "needs 2, has 1")
}

// A pouch folds once all in it is counted and every difference has its reason; the next one opens. Nothing that must be
// put right stays in a fold, and without scripts there is none.
func TestCountedPouchesFold(t *testing.T) {
	w := newWorld(t)
	w.receive("EYE", "E5", "2026-11", 1)
	w.restock("CEN-01", "100236", "EYE/E5", 1)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	body := w.as("Kim Crew").get("/b/CEN-01/full-check").res.Body.String()
	assert.Equal(t, strings.Count(body, `<details class="pouch"`), strings.Count(body, `<details class="pouch" open`),
		"without scripts")
	b.open("/b/CEN-01/full-check")
	const open = `[...document.querySelectorAll(".counts > .pouch")].map(e => e.open)`
	before := ask[[]bool](b, open)
	require.Greater(t, len(before), 2)
	assert.True(t, before[0], "where to begin")
	assert.False(t, before[1])
	assert.True(t, before[len(before)-1], "what is not on the list")
	ask[bool](b, `document.querySelectorAll(".pouch:nth-of-type(1) .seen input:not(:checked)").forEach((e, i) => i && `+
		`e.click()) || true`)
	b.do(chromedp.Click(".lotrow .stepper button:first-child"))
	assert.True(t, ask[[]bool](b, open)[0], "why is it less?")
	b.do(chromedp.SetValue(".lotrow select", "missing"))
	ask[bool](b, `document.querySelector(".lotrow select").dispatchEvent(new Event("change", { bubbles: true }))`)
	after := ask[[]bool](b, open)
	assert.False(t, after[0])
	assert.True(t, after[1], "the next one")
	assert.Contains(t, ask[string](b, `document.querySelector(".pouch summary").innerText`), "of ")
	ask[bool](b, `(e => { e.setCustomValidity("why?"); e.form.reportValidity(); return true; })(document.querySelector(`+
		`".pouch:nth-of-type(1) input[type=number]"))`)
	assert.True(t, ask[[]bool](b, open)[0], "to be put right")
}

// Changing one batch ticks that batch alone. A full check with nothing counted is asked about at once; by one more
// touch it is a partial one, which renews no date.
func TestNotCounted(t *testing.T) {
	w := newWorld(t)
	w.receive("TQ", "A9", "2029-01", 3)
	w.restock("CEN-01", "100236", "TQ/A9", 1)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	const main, ticks = "form.counts > button.main", `document.querySelectorAll(".seen input:checked").length`
	b.do(chromedp.Click(main))
	lines := ask[int](b, `document.querySelectorAll(".row:has(.seen)").length`)
	b.sees(fmt.Sprint(lines, " lines not counted"))
	assert.True(t, ask[bool](b, `document.querySelector(".partial button").checkVisibility()`))
	row := fmt.Sprintf(".lotrow:has([name='row.0.%d.counted'])", w.lots["TQ/A9"])
	b.do(chromedp.Click(row + " .stepper button:first-child"))
	assert.Equal(t, 1, ask[int](b, ticks), "the other batch was not looked at")
	assert.Contains(t, ask[string](b, `document.querySelector(".progress").textContent`), "0 of ")
	b.do(chromedp.SetValue(row+" select", "missing"))
	b.press(".partial button")
	b.sees(fmt.Sprint("Full check recorded, ", lines, " lines not counted."))
}

// More than lies in the bag is asked about at once, whether tapped or typed.
func TestUsingMoreThanThereIs(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/use")
	const used = `document.querySelector(".stepper input").value`
	plus := ".stepper button:last-child"
	b.do(chromedp.Click(plus), chromedp.Click(plus))
	assert.Equal(t, "2", ask[string](b, used))
	b.do(chromedp.Click(plus))
	assert.Equal(t, "2", ask[string](b, used), "there are two")
	b.sees("2 in this bag: more?")
	b.do(chromedp.Click(".lotrow .since button"))
	assert.Equal(t, "3", ask[string](b, used))
	ask[bool](b, `document.querySelector(".lotrow .since") === null`)
	ask[bool](b, `(e => { e.value = "9"; return e.dispatchEvent(new Event("change")); })(document.querySelectorAll(`+
		`".stepper input")[1])`)
	assert.Equal(t, "2", ask[string](b, `document.querySelectorAll(".stepper input")[1].value`))
	assert.Contains(t, b.text(), "2 in this bag: more?")
	b.do(chromedp.Click(plus))
	assert.Equal(t, "4", ask[string](b, used), "asked once")
	b.device("SPLINT/S1", w)
}

// device takes a device into a bag, and counts it once however often it is tapped.
func (b *browser) device(lot string, w *world) {
	b.t.Helper()
	w.restock("CEN-01", "100235", lot, 1)
	b.open("/b/CEN-01/use")
	ask[bool](b, `document.querySelectorAll("[data-single] .stepper button:last-child").forEach(e => { e.click(); `+
		`e.click(); }) || true`)
	assert.Equal(b.t, "1", ask[string](b, `document.querySelector("[data-single] input").value`))
}

// Every crew page fits a narrow screen without sideways scrolling, its targets
// are at least 44 px high, and its own style and script are allowed to load.
func TestCrewPagesOnAPhone(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	const width = 320
	b.size(width, 640)
	for _, path := range w.crewPages() {
		b.open(path)
		assert.LessOrEqual(t, ask[int64](b, "document.documentElement.scrollWidth"), int64(width), path)
		assert.Empty(t, ask[[]string](b, smallTargets), path)
		assert.True(t, ask[bool](b, `document.documentElement.classList.contains("js") && document.styleSheets.length === `+
			`1 && document.styleSheets[0].cssRules.length > 50`), path)
	}
}

// smallTargets lists what can be tapped and is less than 44 px high. Links in
// a sentence are as high as its text (WCAG 2.2, 2.5.8, exception "inline"). Boxes
// and radio buttons are tapped on their whole label.
const smallTargets = `[...document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")]
	.filter(e => e.checkVisibility() && getComputedStyle(e).display !== "inline" && !e.classList.contains("skip"))
	.map(e => e.type === "radio" || e.type === "checkbox" ? e.closest("label") : e)
	.filter(e => e.getBoundingClientRect().height < 44)
	.map(e => e.outerHTML.slice(0, 80) + " " + e.getBoundingClientRect().height)`

// The sheet is shown as it will be printed, and a tap on one of its labels
// begins there; further pages are not in the way.
func TestBeginByTouch(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	b.open("/labels?bag=CEN-01&bag=CEN-02&sheet=a4-3x7")
	const drawn = `(i => i.complete && i.naturalWidth > 0)(document.querySelector(".paper img"))`
	assert.True(t, ask[bool](b, drawn), "the picture is allowed to load")
	assert.True(t, ask[bool](b, `document.querySelectorAll(".paper a").length === 21`))
	b.press(".paper a:nth-of-type(5)")
	assert.Equal(t, "5", ask[string](b, `new URLSearchParams(location.search).get("start")`))
	assert.Equal(t, "5", ask[string](b, `document.querySelector("[name=start]").value`))
	assert.True(t, ask[bool](b, drawn))
	assert.True(t, ask[bool](b,
		`[...document.querySelectorAll(".paper text")].map(e => e.textContent).join(" ").startsWith("1 2 3 4 7 8")`),
		"the labels before and after stay blank")
	assert.LessOrEqual(t, ask[int64](b, "document.documentElement.scrollWidth"), int64(360))
}

// Inspecting by touch: a tap on the answer's whole field answers it.
func TestInspectingByTouch(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	lot := w.lots["SPLINT/S1"]
	b.open(devicePath(lot) + "/inspect")
	id := "#" + Field{Name: pointRow(lot, 1)}.ID()
	assert.GreaterOrEqual(t, ask[float64](b, `document.querySelector(".answer").getBoundingClientRect().height`), 56.0)
	b.do(chromedp.Click(`label[for="` + id[1:] + `-fail"]`))
	assert.True(t, ask[bool](b, `document.querySelector("`+id+`-fail").checked`))
	b.press("form > button.main")
	assert.Contains(t, b.text(), "Inspection failed.")
	assert.Contains(t, b.text(), "quarantine")
}

// A slash, or a scanner, types into the search wherever nothing else is being typed into.
func TestTypingFinds(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.until("the script runs", `document.readyState === "complete"`)
	assert.False(t, ask[bool](b, `document.body.dispatchEvent(new KeyboardEvent("keydown", { key: "/", bubbles: true, `+
		`cancelable: true }))`), "it is not typed itself")
	b.do(chromedp.KeyEvent("cen 02"), chromedp.KeyEvent(kb.Enter))
	b.at("/b/CEN-02")
	b.until("the script runs", `document.readyState === "complete"`)
	b.do(chromedp.KeyEvent("CEN-01"), chromedp.KeyEvent(kb.Enter))
	b.at("/b/CEN-01")
	b.open("/b/CEN-01/full-check")
	b.taken()
	b.do(chromedp.SendKeys("[name=note]", "a/b"))
	assert.Equal(t, "a/b", ask[string](b, `document.querySelector("[name=note]").value`))
}
