package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
)

// crewPages makes things happen, and lists the pages on which a crew works.
func (w *world) crewPages() []string {
	w.t.Helper()
	w.bag("CEN-05", "CEN", "Old bag", 9)
	w.retire("CEN-05", "CEN-01")
	w.modules()
	_, err := w.svc.Shift.SendAway(w.t.Context(), admin, shift.AwayTrip{From: "CEN-STORE", Where: "County hospital",
		Lines: []shift.AwayLine{{LotID: w.lots["SPLINT/S2"], Qty: 1}}})
	require.NoError(w.t, err)
	return []string{"/board", "/b/CEN-01", "/b/CEN-02", "/b/CEN-03", "/b/CEN-04", "/b/CEN-02/seal-check",
		"/b/CEN-02/full-check", "/b/CEN-02/use", "/b/CEN-02/out-of-service", "/b/NONE", "/b/CEN-O1", "/b/CEN-05",
		"/devices", devicePath(w.lots["SPLINT/S1"]), devicePath(w.lots["SPLINT/S1"]) + "/inspect",
		devicePath(w.lots["TRAINTQ/T1"]), openPath(w.lots["EYE/E1"], "CEN-STORE"),
		"/away", awaySendPath("CEN-01"), "/away/CEN-AWAY-1", "/lent", "/b/CEN-01/log", "/b/SACK-1",
		"/b/SACK-1/swap?out=MOD-1", "/b/SACK-1/full-check", vehiclePath("CEN", "Vehicle 09"), "/stock/CEN-STORE",
		"/waiting-here"}
}

// A line with several batches has its ticks beside − and +, as a line with one has, and both under the thumb.
func TestTicksAndStepsAreAlike(t *testing.T) {
	w := newWorld(t)
	w.receive("TQ", "A9", "2029-01", 3)
	w.restock("CEN-01", "100236", "TQ/A9", 1)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	ask[bool](b, `document.querySelectorAll("details.pouch").forEach(e => { e.open = true; }) || true`)
	gaps := ask[[]int](b, `[...document.querySelectorAll(".stepper")].map(s => [s, `+
		`s.closest(".lotrow").querySelector(".seen") || s.closest(".row").querySelector(".seen")]).filter(`+
		`([, t]) => t).map(([s, t]) => Math.round(Math.abs(`+
		`s.getBoundingClientRect().bottom - t.getBoundingClientRect().bottom)))`)
	require.Greater(t, len(gaps), 3)
	assert.LessOrEqual(t, slices.Max(gaps), 1)
	assert.True(t, ask[bool](b, `[...document.querySelectorAll(".stepper")].every(s => `+
		`s.getBoundingClientRect().right > innerWidth - 40)`), "at the right")
}

// looks are what a crew's phone may look like, with the scheme that its owner asks for.
var looks = map[string]string{"light": "light", "dark": "dark", "night": "dark"}

// look brings the page that is open to a look.
func (b *browser) look(name string) {
	b.t.Helper()
	b.scheme(looks[name])
	ask[bool](b, fmt.Sprintf(`document.documentElement.classList.toggle("night", %t) || true`, name == "night"))
}

// gloved lists targets that are under 56 px high or wide, and pairs with less than 12 px between them. What is in a
// sentence is as high as its text (WCAG 2.2, 2.5.8, exception "inline"); the fixed bar lies over the rest.
const gloved = `(() => {
	const all = [...document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")]
		.filter(e => e.checkVisibility() && getComputedStyle(e).display !== "inline" && !e.classList.contains("skip"))
		.map(e => e.type === "radio" || e.type === "checkbox" ? e.closest("label") : e)
		.map(e => ({ e, r: e.getBoundingClientRect(), bar: e.closest(".actions"), name: e.tagName + " " +
			(e.name || e.getAttribute("href") || "") + " " + e.textContent.trim().replace(/\s+/g, " ").slice(0, 30) }));
	const out = all.filter(({ r }) => r.height < 56 || r.width < 56).map(({ r, name }) => name + " " +
		Math.round(r.width) + " × " + Math.round(r.height));
	for (const a of all) for (const b of all) {
		if (a === b || a.bar !== b.bar || a.e.contains(b.e) || b.e.contains(a.e)) continue;
		if (a.r.top > b.r.top || a.r.top === b.r.top && a.r.left > b.r.left) continue;
		const x = Math.max(b.r.left - a.r.right, a.r.left - b.r.right), y = b.r.top - a.r.bottom;
		if (x < 11.9 && y < 11.9) out.push(a.name + " | " + b.name + ": " + Math.round(x) + ", " + Math.round(y));
	}
	return out.slice(0, 8);
})()`

// faint lists words that stand out less from their ground than they should: 7 to 1 for small text (WCAG 2.2, 1.4.6),
// 4.5 to 1 for large.
const faint = `(() => {
	const rgb = c => { const x = (c.match(/[\d.]+/g) || []).map(Number); return c.startsWith("color(") ?
		[x[0] * 255, x[1] * 255, x[2] * 255, x[3] ?? 1] : [x[0], x[1], x[2], x[3] ?? 1]; };
	const light = c => { const [r, g, b] = rgb(c).map(v =>
		(v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
		return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const behind = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
		if (rgb(c)[3] > 0) return c; } return "rgb(255, 255, 255)"; };
	const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	const look = (e, text, colour) => {
		const s = getComputedStyle(e), size = parseFloat(s.fontSize);
		const least = size >= 24 || size >= 18.66 && Number(s.fontWeight) >= 700 ? 4.5 : 7;
		const a = light(colour), b = light(behind(e)), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		if (ratio < least) out.push(ratio.toFixed(2) + ": " + text.slice(0, 60) + " " + colour + " on " + behind(e));
	};
	while (walk.nextNode()) {
		const e = walk.currentNode.parentElement;
		if (walk.currentNode.textContent.trim() && e.checkVisibility({ opacityProperty: true }) && !e.closest(".skip"))
			look(e, walk.currentNode.textContent.trim(), getComputedStyle(e).color);
	}
	for (const e of document.querySelectorAll("input[placeholder]"))
		if (e.checkVisibility()) look(e, e.placeholder, getComputedStyle(e, "::placeholder").color);
	for (const e of document.querySelectorAll("input[type=checkbox], input[type=radio]")) if (e.checkVisibility()) {
		const a = light(getComputedStyle(e).borderTopColor), b = light(behind(e.parentElement));
		if ((Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) < 4.5) out.push("box: " + e.outerHTML);
	}
	return [...new Set(out)].slice(0, 8);
})()`

// who has Kim work on all pages but those that are for whoever signs in next, the last ones to be opened.
func (b *browser) who(w *world, path string) {
	b.t.Helper()
	if path == "/sign-in" {
		_, err := chromedp.Call(b.ctx, network.ClearBrowserCookies, cdp.Empty{})
		require.NoError(b.t, err)
		b.onTerminal(w)
	}
}

// In gloves, in the sun and at night: what is tapped is 56 px or more, with 12 px between, and words are read.
func TestCrewPagesInGlovesSunAndNight(t *testing.T) {
	w := newWorld(t)
	pages := w.crewPages()
	w.happen()
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	for _, path := range append(pages, "/sign-in", "/sign-in?who=1", "/no-signal") {
		b.who(w, path)
		b.open(path)
		ask[bool](b, `document.querySelectorAll("details").forEach(e => { e.open = true; }) || true`)
		assert.Empty(t, ask[[]string](b, gloved), path)
		for look := range looks {
			b.look(look)
			assert.Empty(t, ask[[]string](b, faint), "%s, %s", path, look)
		}
	}
}

// At night in a vehicle a phone is dimmed by its own button, with and without signal, and stays so until it is told
// otherwise.
func TestNightLook(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	const night = `document.documentElement.classList.contains("night")`
	assert.False(t, ask[bool](b, night))
	b.do(chromedp.Click("form[action='/look'] button"))
	assert.True(t, ask[bool](b, night))
	assert.Equal(t, "/board", ask[string](b, "location.pathname"))
	b.open("/b/CEN-01")
	assert.True(t, ask[bool](b, night))
	b.offline(true)
	b.open("/b/CEN-02")
	b.sees("No signal. As of ")
	assert.True(t, ask[bool](b, night))
	b.do(chromedp.Click("form[action='/look'] button"))
	b.open("/b/CEN-03")
	assert.False(t, ask[bool](b, night))
}

// The same without scripts: the answer is the page that it was asked on.
func TestNightLookWithoutScripts(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew").get("/b/CEN-01")
	assert.NotContains(t, c.res.Body.String(), `class="night"`)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "/look", strings.NewReader(url.Values{}.Encode()))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Referer", "https://stock.example.org/b/CEN-01?done=check-1")
	c.do(r)
	assert.Equal(t, "/b/CEN-01?done=check-1", c.location())
	cookie := c.res.Result().Cookies()[0]
	assert.Equal(t, "night", cookie.Value)
	for value, has := range map[string]bool{"night": true, "": false, "other": false} {
		r, err = http.NewRequestWithContext(t.Context(), http.MethodGet, "/b/CEN-01", nil)
		require.NoError(t, err)
		r.AddCookie(&http.Cookie{Name: cookie.Name, Value: value})
		assert.Equal(t, has, strings.Contains(c.do(r).res.Body.String(), `class="night"`), value)
	}
}

// A vehicle keeps the look for the night: its own page and all of its bags are dim on every phone, with and without
// signal, and so is the board that somebody comes back to from there; those of another vehicle are as the phone has it.
func TestNightLookOfAVehicle(t *testing.T) {
	w := newWorld(t)
	_, err := w.svc.Lists.ChangeStation(t.Context(), admin, "CEN", lists.StationSettings{NightVehicles: []string{
		"Vehicle 01"}})
	require.NoError(t, err)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	const night = `document.documentElement.classList.contains("night")`
	b.open("/board")
	b.kept(4)
	assert.False(t, ask[bool](b, night), "as the phone has it")
	of := map[string]string{}
	for _, code := range []string{"CEN-01", "CEN-02", "CEN-03", "CEN-04"} {
		bag, err := w.svc.Lists.Bag(t.Context(), admin, code)
		require.NoError(t, err)
		of[bag.Vehicle] = code
	}
	mine, other := "/b/"+of["Vehicle 01"], "/b/"+of["Vehicle 02"]
	for _, signal := range []bool{true, false} {
		b.offline(!signal)
		for _, c := range []struct {
			path string
			want bool
		}{{mine, true}, {mine + "/use", true}, {vehiclePath("CEN", "Vehicle 01"), true}, {"/board", true},
			{other, false}, {"/board", false}, {mine, true}} {
			b.open(c.path)
			b.until("the page is done", `document.readyState === "complete"`)
			assert.Equal(t, c.want, ask[bool](b, night), "%s with signal: %v", c.path, signal)
			// The phone notes it a moment later, and its kept pages go by that.
			b.until("the phone has noted it", fmt.Sprintf(`new Promise(yes => indexedDB.open("stowkeeper").onsuccess = e => {
				e.target.result.transaction("notes").objectStore("notes").get("vehicle_look").onsuccess = x => {
					e.target.result.close(); yes(!!x.target.result === %v); }; })`, c.want))
		}
		assert.False(t, ask[bool](b, `!!document.querySelector("form.looks")`), "the vehicle says so")
	}
}

// loudness is how loudly a page says the state of a bag: the size and weight of its words, whether its panel is filled
// against the page or how thick its frame is, and how much of the stroke at its left is drawn.
type loudness struct {
	Size, Weight, Word, Frame float64
	Filled                    bool
	Bar                       string
}

const howLoud = `(() => {
	const rgb = c => (c.match(/[\d.]+/g) || []).map(Number);
	const light = c => { const [r, g, b] = rgb(c).map(v =>
		(v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
		return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const box = document.querySelector(".verdict"), s = getComputedStyle(box);
	const h1 = getComputedStyle(box.querySelector("h1"));
	const a = light(s.backgroundColor), b = light(getComputedStyle(document.body).backgroundColor);
	const filled = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) >= 7;
	const drawn = s.outlineStyle === "none" ? 0 : parseFloat(s.outlineWidth) * (s.outlineStyle === "double" ? 2 / 3 : 1);
	return { Size: parseFloat(h1.fontSize), Weight: Number(h1.fontWeight), Filled: filled, Frame: filled ? 0 : drawn,
		Word: Number(getComputedStyle(box.querySelector(".state")).fontWeight),
		Bar: getComputedStyle(box, "::before").backgroundImage + getComputedStyle(box, "::before").backgroundColor };
})()`

// media has the browser show pages as on paper, or in the colours that a person forces.
func (b *browser) media(media, forced string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
		Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: forced}}})
	require.NoError(b.t, err)
}

// A bag that is out of service is as loud as one that is not ready, in every look, and told from it by its stroke and
// words; what takes it there stands with the verdict.
func TestOutOfServiceIsLoud(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	of := func(path, state string) (out loudness) {
		b.open(path)
		assert.Contains(t, ask[string](b, `document.querySelector(".verdict").className`), state)
		return ask[loudness](b, howLoud)
	}
	reason := "the lock is bent"
	_, err := w.svc.Shift.StopVehicle(t.Context(), admin, shift.VehicleChange{Station: "CEN", Vehicle: "Vehicle 01",
		Reason: reason})
	require.NoError(t, err)
	for look, set := range map[string]func(){
		"light":  func() { b.media("", "none"); b.scheme("light") },
		"dark":   func() { b.media("", "none"); b.scheme("dark") },
		"night":  func() { b.media("", "none"); b.do(chromedp.Click("form[action='/look'] button")) },
		"print":  func() { b.media("print", "none") },
		"forced": func() { b.media("", "active") },
	} {
		b.open("/board")
		set()
		stop, off := of("/b/CEN-03", "not_ready"), of("/b/CEN-04", "out_of_service")
		vehicle := of(vehiclePath("CEN", "Vehicle 01"), "out_of_service")
		assert.NotEqual(t, stop.Bar, off.Bar, "%s: the strokes differ", look)
		assert.True(t, off.Filled || off.Frame >= 6, "%s: %+v", look, off)
		vehicle.Bar, stop.Bar, off.Bar = "", "", ""
		assert.Equal(t, stop, off, look)
		assert.Equal(t, stop, vehicle, look)
		if look == "night" {
			b.do(chromedp.Click("form[action='/look'] button"))
		}
	}
	b.media("", "none")
	for _, path := range []string{"/b/CEN-01", "/b/CEN-04", vehiclePath("CEN", "Vehicle 02")} {
		b.open(path)
		assert.Regexp(t, "Take out of service|Change reason", ask[string](b,
			`document.querySelector(".verdict a.act, .verdict button").innerText`), path)
	}
}

// axe-core finds nothing on what a crew opens, on a narrow phone and a small one, in every look, with text at 200 %;
// and nothing leaves the page sideways.
func TestCrewPagesAreAccessibleAtTwiceTheText(t *testing.T) {
	source := axeSource(t)
	w := newWorld(t)
	pages := w.crewPages()
	w.happen()
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	for _, path := range append(pages, "/sign-in", "/sign-in?who=1", "/no-signal") {
		b.who(w, path)
		b.open(path)
		b.do(chromedp.Evaluate[chromedp.Void](source))
		ask[bool](b, `(document.documentElement.style.fontSize = "212.5%") !== ""`)
		for _, width := range []int64{320, 360} {
			b.size(width, 640)
			assert.LessOrEqual(t, ask[int64](b, "document.documentElement.scrollWidth"), width, "%s at %d px: %v", path, width,
				ask[[]string](b, `[...document.querySelectorAll("body *")].filter(e => e.scrollWidth > e.clientWidth + 1 || `+
					`e.getBoundingClientRect().right > 361).map(e => e.tagName + e.className + e.textContent.slice(0, 30))`))
			for look := range looks {
				b.look(look)
				assert.Empty(t, b.axe(map[bool]string{true: axeAll, false: axeColours}[look == "night"]), "%s at %d px, %s",
					path, width, look)
			}
		}
	}
}
