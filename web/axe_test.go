package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// axeSource reads axe-core from a node_modules folder. Without it the test is
// skipped, unless STOWKEEPER_NO_SKIP=1 says that it must not be.
func axeSource(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(os.Getenv("STOWKEEPER_NODE_MODULES"), "axe-core", "axe.min.js"))
	if err != nil {
		if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
			t.Fatal("no axe-core under STOWKEEPER_NODE_MODULES, and STOWKEEPER_NO_SKIP=1")
		}
		t.Skip("STOWKEEPER_NODE_MODULES names no node_modules folder with axe-core in it")
	}
	return string(b)
}

// runAxe runs the rules of WCAG 2.2, levels A and AA, or those of them that
// colours decide, and tells what breaks them.
const runAxe = `axe.run(document, {resultTypes: ["violations"], runOnly: %s}).then(r => JSON.stringify(
	r.violations.flatMap(v =>
	v.nodes.slice(0, 3).map(n => v.id + ": " + n.html.slice(0, 160) + " " +
		(n.failureSummary || "").split("\n").slice(1, 2).join("")))))`

const (
	axeAll     = `{type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}`
	axeColours = `{type: "rule", values: ["color-contrast", "link-in-text-block"]}`
)

// lostFocus gives the focus to each thing on a page that Tab reaches, as the
// keyboard does, and lists where it cannot be seen: no outline, one that stands
// out less than 3 to 1 (WCAG 2.2, 1.4.11) from what it is drawn on, or all of it
// under something else (2.4.11). On a drawn sheet the frame of a label is it.
const lostFocus = `(() => {
	const rgb = c => (c.match(/[\d.]+/g) || []).map(Number);
	const light = c => { const [r, g, b] = rgb(c).map(v =>
		(v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
		return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const behind = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor, p = rgb(c);
		if (p.length < 4 || p[3] > 0) return c; } return "rgb(255 255 255)"; };
	const out = [];
	for (const e of document.querySelectorAll(
		"a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")) {
		if (e.disabled || !e.checkVisibility() || e.getClientRects().length === 0 && !(e instanceof SVGElement)) continue;
		e.focus({ focusVisible: true });
		if (document.activeElement !== e) continue;
		const s = getComputedStyle(e), frame = e instanceof SVGElement && e.querySelector("rect"),
			name = e.outerHTML.slice(0, 90);
		if (frame) {
			if (getComputedStyle(frame).stroke === "none") out.push("no frame: " + name);
			continue;
		}
		if (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2) { out.push("no outline: " + name); continue; }
		const a = light(s.outlineColor), b = light(behind(e.parentElement));
		if ((Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) < 3)
			out.push("faint outline " + s.outlineColor + " on " + behind(e.parentElement) + ": " + name);
		const r = e.getClientRects()[0], x = Math.max(0, Math.min(innerWidth - 1, r.left + r.width / 2));
		const seen = [r.top + 2, r.top + r.height / 2, r.bottom - 2].some(y => { const at = document.elementFromPoint(x, y);
			return at && (e.contains(at) || at.contains(e)); });
		if (!seen) out.push("hidden under something: " + name + " at " + Math.round(r.top));
	}
	return out;
})()`

func (b *browser) axe(rules string) []string {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](fmt.Sprintf(runAxe, rules), chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	var out []string
	require.NoError(b.t, json.Unmarshal([]byte(text), &out))
	return out
}

func (b *browser) scheme(name string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	require.NoError(b.t, err)
}

// pagesToLookAt is every page that a GET route shows, on a world in which
// something happened, and a few that a query makes another page.
func pagesToLookAt(w *world) []string {
	s, err := newServer(w.svc, w.options())
	require.NoError(w.t, err)
	paths := []string{"/b/CEN-02", "/b/CEN-03", "/b/CEN-04", "/bags/CEN-03/restock", "/board?station=NOR", "/search?q=a",
		"/search?q=nothing+at+all", "/stock?q=A1", "/year?station=NOR", "/labels?kind=shelf&place=CEN-STORE&all=yes",
		"/labels?kind=device&all=yes", "/labels?bag=CEN-01&sheet=a4-3x7", "/recorded?by=Kim+Crew", "/b/CEN-02/full-check",
		"/report?as_of=tomorrow", "/flows/rows?kind=received", devicePath(w.lots["SPLINT/S1"]), "/b/NONE",
		"/stock?open=PLAIN", "/bags/new?copy=CEN-01", "/paper?kind=count", "/paper?kind=check"}
	for _, rt := range s.routes() {
		if rt.Method == get {
			paths = append(paths, w.filled(rt.Path))
		}
	}
	var pages []string
	shown := 0
	c := w.as(adminName)
	for _, path := range paths {
		c.get(path)
		for c.res.Code == http.StatusSeeOther || c.res.Code == http.StatusMovedPermanently {
			c.follow()
		}
		if strings.HasPrefix(c.res.Header().Get("Content-Type"), "text/html") {
			pages = append(pages, path)
		}
		if c.res.Code == http.StatusOK {
			shown++
		}
	}
	require.Greater(w.t, shown, len(paths)*3/4, "most stand-ins lead to no page")
	return pages
}

// happen makes some things wait, so that pages have something on them.
func (w *world) happen() {
	w.t.Helper()
	ctx := context.Background()
	_, err := w.svc.Notice.CreateNotice(ctx, admin, inventory.Notice{Reference: "RC-1", Action: inventory.NoticeWithdraw,
		Item: "TQ"})
	require.NoError(w.t, err)
	kim := inventory.Actor{Name: "Kim Crew", Role: inventory.Crew, Stations: []string{"CEN"}}
	for i, qty := range []int{1, 99} {
		_, err = w.svc.Shift.RecordUse(ctx, kim, inventory.Use{Bag: "CEN-01", Incident: fmt.Sprint("INC-", i),
			Lines: []inventory.UseLine{{LotID: w.lots["PLAIN/D2"], Qty: qty}}}, "")
		require.NoError(w.t, err)
	}
	c, err := w.svc.Shift.Checklist(ctx, admin, "CEN-03", lists.Outlook{})
	require.NoError(w.t, err)
	_, err = w.svc.Shift.RecordCheck(ctx, kim, inventory.Check{Bag: "CEN-03", Kind: inventory.SealCheck, SealSeen: "999",
		SeenPosition: c.Bag.Position - 1}, "")
	require.NoError(w.t, err)
}

// Every page, on a phone, in light and in the dark: axe-core finds nothing
// against WCAG 2.2 AA, and the focus can be seen wherever it is. What a crew may
// open has targets of at least 44 px. Nothing scrolls sideways at 320 px, on a
// phone, and at 1280 px zoomed to 200 %, which is as wide as 640 px.
func TestEveryPageIsAccessible(t *testing.T) {
	source := axeSource(t)
	w := newWorld(t)
	w.happen()
	b := newBrowser(t, w)
	b.as(w, adminName)
	kim := w.as("Kim Crew")
	forCrew := 0
	for _, path := range pagesToLookAt(w) {
		b.size(360, 640)
		b.open(path)
		b.do(chromedp.Evaluate[chromedp.Void](source))
		for scheme, rules := range map[string]string{"light": axeAll, "dark": axeColours} {
			b.scheme(scheme)
			assert.Empty(t, b.axe(rules), "%s, %s", path, scheme)
			b.do(chromedp.KeyEvent(kb.Tab)) // from here on the focus shows
			assert.Empty(t, ask[[]string](b, lostFocus), "%s, %s", path, scheme)
		}
		if kim.get(path).res.Code == http.StatusOK {
			forCrew++
			assert.Empty(t, ask[[]string](b, smallTargets), path)
		}
		for _, width := range []int64{320, 360, 640} {
			b.size(width, 640)
			assert.LessOrEqual(t, ask[int64](b, "document.documentElement.scrollWidth"), width, "%s at %d px", path, width)
		}
	}
	assert.Greater(t, forCrew, 25, "pages that a crew may open")
}
