package web

import (
	"fmt"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	tab "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// offline cuts the way between browser and server, or mends it.
func (b *browser) offline(yes bool) {
	b.t.Helper()
	b.cut.Store(yes)
	_, err := chromedp.Call(b.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: yes,
		DownloadThroughput: -1, UploadThroughput: -1})
	require.NoError(b.t, err)
}

func askLater[T any](b *browser, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, script)
	return v
}

// until waits for what a page's script makes true.
func (b *browser) until(what, script string) {
	b.t.Helper()
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		v, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise))
		if err == nil && v {
			return
		}
		require.True(b.t, time.Now().Before(end), "%s: %s", what, b.text())
	}
}

// onTerminal makes the browser the terminal that people sign in on.
func (b *browser) onTerminal(w *world) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{Name: "stowkeeper_terminal",
		Value: w.terminal, URL: b.url})
	require.NoError(b.t, err)
}

func (b *browser) sees(text string) {
	b.t.Helper()
	b.until("a page that says "+text, `document.body.innerText.includes(`+"`"+text+"`"+`)`)
}

const keptBags = `caches.open("pages").then(c => c.keys()).then(k => k.filter(r => r.url.includes("/b/")).length)`

// kept waits until the phone keeps the five pages of each of so many bags.
func (b *browser) kept(bags int64) {
	b.t.Helper()
	b.until("pages are kept", keptBags+".then(n => n === "+formatID(5*bags)+")")
}

// Kim signs out and is called back within two minutes: the phone keeps the pages again.
func TestSignedInAgainKeepsPages(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.until("the phone has looked", `new Promise(yes => indexedDB.open("stowkeeper").onsuccess = e => {
		e.target.result.transaction("notes").objectStore("notes").get("looked").onsuccess = g => {
			e.target.result.close(); yes(!!g.target.result); } })`)
	b.press(".who form[action='/sign-out'] button")
	b.until("nobody is signed in", `!document.body.dataset.person`)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
}

// Kim scans a label with a phone that was never here, and goes on before the page has made its store: the form that she
// opens keeps what she enters.
func TestFirstPageLeftAtOnce(t *testing.T) {
	w := newWorld(t)
	for range 3 {
		b := newBrowser(t, w)
		b.as(w, "Kim Crew")
		b.open("/b/CEN-01")
		b.open("/b/CEN-01/full-check")
		b.taken()
		b.stop()
	}
}

func (w *world) recordsOf(bag string) (checks []inventory.Check, uses []inventory.Use) {
	w.t.Helper()
	checks, err := w.svc.Shift.Checks(w.t.Context(), admin, inventory.RecordFilter{Bag: bag}, inventory.Page{})
	require.NoError(w.t, err)
	uses, err = w.svc.Shift.Uses(w.t.Context(), admin, inventory.RecordFilter{Bag: bag}, inventory.Page{})
	require.NoError(w.t, err)
	return checks, uses
}

// A shared phone: what one crew recorded without signal waits until they are
// signed in again, through the end of their session and somebody else's shift.
// Signing out drops what pages were kept, and not what waits.
func TestWhatWaitsBelongsToWhoRecordedIt(t *testing.T) {
	w := newWorld(t)
	_, err := w.svc.Account.CreatePerson(t.Context(), admin, inventory.Person{Name: "Pat Crew", Role: inventory.Crew,
		Stations: []string{"CEN"}}, crewPIN, plainSecrets{})
	require.NoError(t, err)
	w.later(time.Hour) // after the bags were filled
	b := newBrowser(t, w)
	enter := func(name string) {
		b.do(chromedp.SetValue("main [name=name]", name), chromedp.SetValue("main [name=secret]", crewPIN))
		b.press("main form > button.main")
	}
	b.onTerminal(w)
	b.open("/sign-in")
	enter("Kim Crew")
	b.kept(4)

	b.offline(true)
	b.open("/b/CEN-02/use")
	b.sees("No signal. As of ")
	b.taken()
	b.do(chromedp.SetValue("[name=incident]", "INC-9"), chromedp.Click("form[data-keep] > button.main"))
	assert.Equal(t, "/b/CEN-02/use", ask[string](b, "location.pathname"), "nothing was said to have been used")
	ask[bool](b, `document.querySelector(".stepper button:last-child").click() || `+
		`document.querySelector("form[data-keep] > button.main").click() || true`)
	b.sees("Use not sent yet, since ")
	b.at("/b/CEN-02")
	b.open("/b/CEN-01/out-of-service")
	b.taken()
	b.do(chromedp.SetValue("[name=reason]", "the zip is torn"), chromedp.Click("form[data-keep] > button.main"))
	b.at("/b/CEN-01")
	b.sees("Out of service: the zip is torn")
	b.open("/b/CEN-03/seal-check")
	b.taken()
	b.do(chromedp.SetValue("[name=seal_set]", "300301"), chromedp.Click("form[action$='/seal'] > button.main"))
	b.at("/b/CEN-03")
	b.sees("New seal not sent yet, since ")
	b.open("/stock")
	b.sees("this page is not kept on this phone")
	_, uses := w.recordsOf("CEN-02")
	assert.Empty(t, uses)

	b.offline(false)
	_, err = chromedp.Call(b.ctx, network.DeleteCookies, network.DeleteCookiesParams{Name: "stowkeeper_session",
		URL: b.url})
	require.NoError(t, err)
	b.open("/board")
	b.sees("3 not sent yet, from Kim Crew: sign in to send")
	enter("Pat Crew")
	b.sees("3 not sent yet, from Kim Crew")
	b.until("Pat's pages are kept, and none of Kim's", `caches.open("pages").then(async c => (await Promise.all((await `+
		`c.matchAll()).map(r => r.text()))).every(t => t.includes('data-person="Pat Crew"')))`)
	b.kept(4)
	b.press(".who button")
	assert.Equal(t, int64(0), askLater[int64](b, keptBags), "signed out")
	_, uses = w.recordsOf("CEN-02")
	assert.Empty(t, uses, "nobody else sends it")

	enter("Kim Crew")
	b.open("/waiting-here")
	b.sees("All sent.")
	b.sees("CEN-02: Use")
	_, uses = w.recordsOf("CEN-02")
	require.Len(t, uses, 1)
	assert.Equal(t, "Kim Crew", uses[0].By)
	assert.Equal(t, "INC-9", uses[0].Incident)
	off, err := w.svc.Lists.Bag(t.Context(), admin, "CEN-01")
	require.NoError(t, err)
	require.NotNil(t, off.OutOfService)
	assert.Equal(t, "the zip is torn", off.OutOfService.Reason)
	resealed, err := w.svc.Lists.Bag(t.Context(), admin, "CEN-03")
	require.NoError(t, err)
	assert.Equal(t, "300301", resealed.Seal)

	send := b.atSync()
	b.open("/b/CEN-02/use")
	b.taken()
	b.offline(true)
	ask[bool](b, `(document.querySelector("[name=incident]").value = "INC-10") && document.querySelector(".stepper `+
		`button:last-child").click() || document.querySelector("form[data-keep] > button.main").click() || true`)
	b.at("/b/CEN-02")
	b.sees("1 not sent yet")
	b.do(chromedp.Navigate("about:blank"))
	b.offline(false)
	send()
	require.Eventually(t, func() bool { _, uses := w.recordsOf("CEN-02"); return len(uses) == 2 }, time.Minute,
		50*time.Millisecond, "sent with no page open")
}

// at waits until a page that the script leads to is there.
func (b *browser) at(path string) {
	b.t.Helper()
	b.until("the page "+path, `location.pathname === "`+path+`" && document.readyState === "complete"`)
}

// taken waits until the script has taken the forms of a page over.
func (b *browser) taken() {
	b.t.Helper()
	b.until("the script has taken the form over",
		`[...document.querySelectorAll("form[data-keep]")].every(f => f.elements.key.value.includes("-"))`)
}

// atSync returns what has the browser tell the worker that there is signal, as
// browsers do by themselves when they see fit.
func (b *browser) atSync() func() {
	b.t.Helper()
	id := make(chan serviceworker.RegistrationID, 9)
	require.NoError(b.t, chromedp.Listen(b.ctx, func(ev any) {
		if ev, ok := ev.(*serviceworker.EventWorkerRegistrationUpdated); ok && len(ev.Registrations) > 0 && len(id) == 0 {
			id <- ev.Registrations[0].RegistrationID
		}
	}))
	_, err := chromedp.Call(b.ctx, serviceworker.Enable, cdp.Empty{})
	require.NoError(b.t, err)
	return func() {
		_, err := chromedp.Call(b.ctx, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{Origin: b.url,
			RegistrationID: <-id, Tag: "send"})
		require.NoError(b.t, err)
	}
}

// The service takes a record only from who recorded it, whatever a phone does,
// and says in short what became of it.
func TestOnlyWhoRecordedItSends(t *testing.T) {
	w := newWorld(t)
	kim := w.as("Kim Crew")
	to, values := kim.get("/b/CEN-01").form("/seal-check")
	values.Set("recorded_by", "Pat Crew")
	assert.Equal(t, 403, kim.post(to, values).res.Code)
	values.Set("recorded_by", "Kim Crew")
	values.Set("recorded_at", "2026-11-25T06:10:00Z")
	said := kim.queue(to, values)
	assert.Equal(t, 200, said.res.Code)
	assert.Contains(t, said.res.Body.String(), `"status":"accepted"`)
	checks, _ := w.recordsOf("CEN-01")
	assert.Equal(t, "2026-11-25T06:10:00Z", checks[0].HappenedAt.String())
	assert.Equal(t, said.res.Body.String(), kim.queue(to, values).res.Body.String(), "sent again")

	to, values = kim.get("/b/CEN-01/use").form("/use")
	values.Set("incident", "INC-1")
	said = kim.queue(to, values)
	assert.Equal(t, 422, said.res.Code)
	assert.Contains(t, said.res.Body.String(), `"person":"Kim Crew"`)
	assert.Contains(t, said.res.Body.String(), "enter at least one")
	assert.Equal(t, 401, w.stranger().queue(to, values).res.Code)
	for _, row := range rowsWith(openForm(values), usePrefix, ".qty") {
		values.Set(row+".qty", "1")
	}
	w.restock("CEN-01", "100999", "GLOVES/", 1)
	assert.Contains(t, kim.queue(to, values).res.Body.String(),
		`"status":"to_review","because":"the bag changed after the crew looked"`)
}

// Two records of one bag made on pages that were kept before either was sent:
// the second follows on the first, unless it counts what the first took.
func TestSecondRecordWithoutSignal(t *testing.T) {
	w := newWorld(t)
	w.later(time.Hour)
	kim := w.as("Kim Crew")
	type kept struct {
		to     string
		values url.Values
		said   string
	}
	record := func(form, at, said string, change url.Values) kept {
		to, values := kim.get("/b/CEN-01" + form).form(form)
		for name, v := range change {
			values[name] = v
		}
		values.Set("recorded_at", at)
		return kept{to, values, said}
	}
	_, values := kim.get("/b/CEN-01/use").form("/use")
	row := rowsWith(openForm(values), usePrefix, ".qty")[0] + ".qty"
	phone := []kept{
		record("/use", "2026-11-25T07:00:00Z", "accepted", url.Values{"incident": {"INC-1"}, row: {"1"},
			"seal_set": {"5001"}}),
		record("/use", "2026-11-25T07:05:00Z", "accepted", url.Values{"incident": {"INC-2"}, row: {"1"},
			"seal_set": {"5002"}}),
		record("/seal-check", "2026-11-25T07:10:00Z", "accepted", url.Values{"seal_seen": {"5002"}}),
		record("/full-check", "2026-11-25T07:15:00Z", "to_review", nil),
	}
	for _, x := range phone {
		assert.Contains(t, kim.queue(x.to, x.values).res.Body.String(), `"status":"`+x.said+`"`, "%s: %s", x.to, x.values)
	}
}

// refusing is what has a page keep nothing of some kinds.
func refusing(kinds ...string) (script string) {
	refuse := map[string]string{"silent": `IDBFactory.prototype.open = () => ({});`, // it never answers
		"database": `IDBFactory.prototype.open = () => { throw new Error("refused"); };`,
		"local":    `Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); };`,
		"room":     `IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); };`}
	for _, k := range kinds {
		script += refuse[k]
	}
	return script
}

// override runs a script before those of every page, until undo is called.
func (b *browser) override(script string) (undo func()) {
	b.t.Helper()
	id, err := chromedp.Call(b.ctx, tab.AddScriptToEvaluateOnNewDocument,
		tab.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	require.NoError(b.t, err)
	return func() {
		_, err := chromedp.Call(b.ctx, tab.RemoveScriptToEvaluateOnNewDocument,
			tab.RemoveScriptToEvaluateOnNewDocumentParams(id))
		require.NoError(b.t, err)
	}
}

// The browser's database is refused, says nothing, or the phone is full: what is recorded without signal waits beside
// it, and is sent when there is signal.
func TestStorageRefusedWaitsBesideIt(t *testing.T) {
	for _, kind := range []string{"database", "room", "silent"} {
		w := newWorld(t)
		b := newBrowser(t, w)
		b.onTerminal(w)
		b.as(w, "Kim Crew")
		b.open("/board")
		b.kept(4)
		b.override(refusing(kind))
		b.open("/b/CEN-02/use")
		b.offline(true)
		b.taken()
		b.do(chromedp.SetValue("[name=incident]", "INC-7"), chromedp.Click(".stepper button:last-child"),
			chromedp.Click("form[data-keep] > button.main"))
		b.at("/b/CEN-02")
		b.sees("1 not sent yet")
		b.offline(false)
		ask[bool](b, `dispatchEvent(new Event("online"))`)
		b.until("it is sent", `Object.keys(localStorage).every(k => !k.startsWith("waiting "))`)
		_, uses := w.recordsOf("CEN-02")
		require.Len(t, uses, 1, kind)
	}
}

// Nothing can be kept, and nothing sent: the page says in the largest letters that nothing is recorded and what to
// write down, holds the record, and sends it once there is signal.
func TestNothingCanBeKept(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.override(refusing("database", "local"))
	b.open("/b/CEN-02/use")
	b.taken()
	b.sees("browser storage is off")
	b.do(chromedp.SetValue("[name=incident]", "INC-8"), chromedp.Click(".stepper button:last-child"),
		chromedp.SetValue("[name=seal_set]", "700700"))
	b.offline(true)
	b.do(chromedp.Click("form[data-keep] > button.main"))
	b.sees("Not recorded.")
	said := b.text()
	for _, s := range []string{"Keep this page open", "CEN-02, Use", "INC-8", "700700", "Tourniquet, windlass, adult"} {
		assert.Contains(t, said, s)
	}
	assert.True(t, ask[bool](b, `(n => [...document.querySelectorAll("main *")].every(e => !e.checkVisibility() || `+
		`parseFloat(getComputedStyle(e).fontSize) <= n))(parseFloat(getComputedStyle(document.querySelector(`+
		`".notrecorded h1")).fontSize))`), "the largest letters")
	assert.Positive(t, askLater[int](b, `caches.open("pages").then(c => c.keys()).then(all => all.length)`),
		"no page is given up for a database that is refused anyway")
	b.offline(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	b.sees("Use for INC-8 recorded")
	_, uses := w.recordsOf("CEN-02")
	assert.Len(t, uses, 1)
}

// The signal returns while a kept page is open: it stops saying that there is none.
func TestThePageKnowsThatTheSignalIsBack(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.offline(true)
	b.open("/b/CEN-01")
	b.sees("No signal. As of ")
	b.offline(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	b.until("no strip", `!document.body.innerText.includes("No signal") && document.body.innerText.includes("CEN-01")`)
	b.press(".actions button.main")
	b.sees("Seal check recorded.")
	assert.False(t, ask[bool](b, `document.querySelector(".actions form button").classList.contains("main")`),
		"it is done")
}

// Where the address is not https, the page says what this phone cannot do, and
// works as without a script.
func TestPlainAddressKeepsNothing(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w, chromedp.Flag("host-resolver-rules", "MAP stock.example.org 127.0.0.1"))
	b.url = strings.Replace(b.url, "127.0.0.1", "stock.example.org", 1)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.sees("Checks cannot be kept without signal: the address is not https.")
	b.press(".actions button.main")
	assert.Contains(t, b.text(), "Seal check recorded.")
}

// The first visit to a bag's page is small enough for a bad link: at most four
// requests and 30 KB, and readable on 400 kbit/s with 400 ms of latency after
// at most 2 s. What the worker fetches afterwards is no part of it.
func TestFirstVisitIsSmall(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	const latency, bytesASecond = 400.0, 400_000.0 / 8
	// Browsers before 150 want to be told that they are not offline, and newer ones do not mind.
	type slowly struct {
		network.EmulateNetworkConditionsByRuleParams
		Offline bool `json:"offline"`
	}
	slow := cdp.Command[slowly, network.EmulateNetworkConditionsByRuleResult]{
		Method: network.CommandEmulateNetworkConditionsByRule}
	_, err := chromedp.Call(b.ctx, slow, slowly{network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Latency: latency, DownloadThroughput: bytesASecond,
			UploadThroughput: bytesASecond}}}, false})
	require.NoError(t, err)
	var mu sync.Mutex
	requests, bytes := 0, 0.0
	require.NoError(t, chromedp.Listen(b.ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			requests++
		case *network.EventLoadingFinished:
			bytes += ev.EncodedDataLength
		}
	}))
	_, err = chromedp.Call(b.ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	b.open("/b/CEN-01")
	mu.Lock()
	n, size := requests, bytes
	mu.Unlock()
	paint := ask[float64](b, `performance.getEntriesByName("first-contentful-paint")[0]?.startTime || `+
		`performance.timing.domContentLoadedEventEnd - performance.timing.navigationStart`)
	icon := float64(len(w.assetNamed(t, "icon.svg").zipped)) // headless browsers do not fetch it
	// Readable is the page with its style, one after the other: two round
	// trips and one to connect, and the time that all bytes take on the link.
	readable := 3*latency + (size+icon)/bytesASecond*1000
	t.Logf("first visit: %d requests and the icon, %.1f KB; computed readable after %.0f ms, measured %.0f ms", n,
		(size+icon)/1000, readable, paint)
	assert.Positive(t, n)
	assert.LessOrEqual(t, n+1, 4)
	assert.LessOrEqual(t, size+icon, 30_000.0)
	assert.LessOrEqual(t, readable, 2000.0)
}

func (w *world) assetNamed(t *testing.T, name string) asset {
	t.Helper()
	a, err := loadAssets(english(t))
	require.NoError(t, err)
	require.Contains(t, a.byName, name)
	return a.byName[name]
}

// What was recorded is said once: who opens the bag without signal an hour later is not told that it was just checked.
func TestKeptPageSaysNothingAgain(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.open("/b/CEN-01")
	b.taken()
	since := ask[int64](b, "Date.now()")
	ask[bool](b, `document.querySelector(".actions form button").click() || true`)
	b.sees("Seal check recorded")
	var kept string
	for kept == "" { // as it is kept at first, before it is asked for again
		kept = askLater[string](b, fmt.Sprintf(`caches.match("/b/CEN-01").then(r => r.text().then(t => `+
			`Number(r.headers.get("X-Kept-At")) > %d ? t : ""))`, since))
	}
	assert.NotContains(t, kept, "Seal check recorded")
	b.offline(true)
	b.open("/b/CEN-01")
	b.sees("No signal. As of ")
	assert.NotContains(t, b.text(), "Seal check recorded")
}
