//go:build unix

package main

import (
	"context"
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// phone is a browser of the size of a small phone, with what it keeps on its
// disk.
type phone struct {
	t              testing.TB
	path, url, dir string
	terminal       string // secret of the terminal that it is enrolled as
	more           []chromedp.ExecAllocatorOption

	stop context.CancelFunc // kills the browser
	all  context.Context    // the browser
	tab  context.Context
	shut context.CancelFunc // closes the tab
	last string             // the key of the last record
}

func newPhone(t testing.TB, path, url string) *phone {
	t.Helper()
	p := &phone{t: t, path: path, url: url, dir: t.TempDir()}
	t.Cleanup(func() { p.stop() })
	p.start()
	return p
}

func (p *phone) start() {
	p.t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(p.path), chromedp.NoSandbox,
		chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(p.dir))
	ctx, cancel := chromedp.NewExecAllocator(p.t.Context(), append(opts, p.more...)...)
	p.stop = cancel
	p.all, _ = chromedp.NewContext(ctx)
	require.NoError(p.t, chromedp.Do(p.all))
	p.newTab()
}

// restart kills the browser, as a phone that ran empty does, and starts it
// again with what its disk holds.
func (p *phone) restart() {
	p.t.Helper()
	running := chromedp.FromContext(p.all).Browser.Process()
	require.NoError(p.t, running.Kill())
	p.stop()
	p.start()
}

// newTab closes the tab, whatever it was at, and opens another.
func (p *phone) newTab() {
	p.t.Helper()
	if p.tab != nil && p.tab.Err() == nil {
		p.shut()
	}
	p.tab, p.shut = chromedp.NewContext(p.all)
	_, err := chromedp.Call(p.tab, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 360,
		Height: 640, DeviceScaleFactor: 1, Mobile: true})
	require.NoError(p.t, err)
}

// online has the browser believe that there is a network, or none.
func (p *phone) online(yes bool) {
	p.t.Helper()
	_, err := chromedp.Call(p.tab, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: !yes,
		DownloadThroughput: -1, UploadThroughput: -1})
	require.NoError(p.t, err)
}

// slow is how long a page or a script may take on a busy machine.
const slow = 40 * time.Second

func (p *phone) navigate(path string) error {
	ctx, cancel := context.WithTimeout(p.tab, slow)
	defer cancel()
	return chromedp.Do(ctx, chromedp.Navigate(p.url+path))
}

// open opens a page. A page that was still at something may lead elsewhere in
// between: then it is opened again.
func (p *phone) open(path string) {
	p.t.Helper()
	for range 5 {
		err := p.navigate(path)
		if err == nil && ask[string](p, "location.pathname") == path {
			return
		}
		if err != nil {
			require.Contains(p.t, err.Error(), "ERR_ABORTED", path)
		}
	}
	require.Fail(p.t, "page does not open", "%s: %s", path, ask[string](p, "location.href + document.body.innerText"))
}

// ask evaluates a script on the page, and awaits what it promises.
func ask[T any](p *phone, script string) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.tab, slow)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(p.t, err, script)
	return v
}

// signIn signs a person in, unless they are.
func (p *phone) signIn(name, pin string) {
	p.t.Helper()
	_, err := chromedp.Call(p.tab, network.SetCookie, network.SetCookieParams{Name: "stowkeeper_terminal",
		Value: p.terminal, URL: p.url})
	require.NoError(p.t, err)
	cookies, err := chromedp.Call(p.tab, network.GetCookies, network.GetCookiesParams{URLs: []string{p.url}})
	require.NoError(p.t, err)
	if slices.ContainsFunc(cookies.Cookies, func(c *network.Cookie) bool { return c.Name == "stowkeeper_session" }) {
		return
	}
	require.NoError(p.t, p.navigate("/sign-in"))
	_, err = chromedp.RunResponse(p.tab, chromedp.SetValue("[name=name]", name), chromedp.SetValue("[name=secret]", pin),
		chromedp.Click("form > button.main"))
	require.NoError(p.t, err)
	require.Equal(p.t, name, ask[string](p, "document.body.dataset.person"))
}

// onDisk opens what the phone keeps, in a script.
const onDisk = `const db = await new Promise((yes, no) => Object.assign(indexedDB.open("stowkeeper"),
			{ onsuccess: e => yes(e.target.result), onerror: no }));
	const at = (store, key) => new Promise((yes, no) => Object.assign(db.transaction(store).objectStore(store).get(key),
			{ onsuccess: e => yes(e.target.result), onerror: no }));
	const has = async key => !!(await at("waiting", key) || await at("sent", key));`

// recordScript fills a form in, presses its button, and ends when the record
// is on the phone's disk, whatever becomes of it.
const recordScript = `(async (button, values) => {
	` + onDisk + `
	const b = document.querySelector(button);
	if (!b) throw new Error("no " + button + " on " + document.body.innerText);
	const form = b.form;
	for (const end = Date.now() + 30000; !form.elements.key.value.includes("-");) { // the page gives it a key of its own
		if (Date.now() > end) throw new Error("no key");
		await new Promise(r => setTimeout(r, 2));
	}
	for (const [where, value] of Object.entries(values)) {
		const field = form.querySelector(where);
		if (!field) throw new Error("no " + where + " on " + document.body.innerText);
		field.value = value;
	}
	form.querySelectorAll(".seen input").forEach(e => { e.checked = true; });
	const key = form.elements.key.value;
	if (!b.checkVisibility()) return "hidden";
	sessionStorage.pressed = key;
	b.click();
	while (!await has(key)) await new Promise(r => setTimeout(r, 2));
	return key;
})`

// record opens a page, with or without signal, and sends the form on it. It
// comes back when the phone has the record: the page may still be sending. It
// tells whether the page offers the button at all.
func (p *phone) record(path, button string, values map[string]string) (offered bool) {
	p.t.Helper()
	if values == nil {
		values = map[string]string{}
	}
	args, err := json.Marshal([]any{button, values})
	require.NoError(p.t, err)
	for range 5 {
		p.open(path)
		if p.try(recordScript + "(..." + string(args) + ")") {
			return p.last != "hidden"
		}
	}
	require.Fail(p.t, "cannot be recorded", path)
	return false
}

// try evaluates recordScript. A page that went on to the next meanwhile may
// have recorded it before, or not.
func (p *phone) try(script string) bool {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.tab, slow)
	defer cancel()
	key, err := chromedp.Run(ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		require.Regexp(p.t, "navigated|closed|context was destroyed|Cannot find context|not found", err.Error())
		p.open("/waiting-here")
		key = ask[string](p, "(async () => {"+onDisk+" const key = sessionStorage.pressed || \"\"; return key && await "+
			"has(key) ? key : \"\"; })()")
	}
	if key == "" || key == p.last && key != "hidden" {
		return false
	}
	p.last = key
	return true
}

// waiting lists what waits on the phone.
func (p *phone) waiting() []struct{ Key, What, Bag, State, Message, Trouble string } {
	p.t.Helper()
	return ask[[]struct{ Key, What, Bag, State, Message, Trouble string }](p, `(async () => {
		const db = await new Promise((yes, no) => Object.assign(indexedDB.open("stowkeeper"),
			{ onsuccess: e => yes(e.target.result), onerror: no }));
		return new Promise((yes, no) => Object.assign(db.transaction("waiting").objectStore("waiting").getAll(),
			{ onsuccess: e => { db.close(); yes(e.target.result); }, onerror: no }));
	})()`)
}
