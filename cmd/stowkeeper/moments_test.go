//go:build unix

package main

import (
	"fmt"
	"net"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
)

// TestMoments does ten things of a shift on the demo, on a phone whose link has 400 kbit/s and 300 ms there and back,
// TLS and its handshake counted, and prints what each costs in touches, keys and seconds until the answer can be read.
// STOWKEEPER_TEST_MOMENTS is the address of another demo to do them on. Part of the long run.
func TestMoments(t *testing.T) {
	address := os.Getenv("STOWKEEPER_TEST_MOMENTS")
	if !inventorytest.Long && address == "" {
		t.Skip("part of the long run")
	}
	if address == "" {
		address = begin(t, demoAddress, "demo", "--db", filepath.Join(t.TempDir(), "demo.db")).address
	}
	front := &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) {
		r.SetURL(&url.URL{Scheme: "http", Host: address})
		r.Out.Host = r.In.Host
	}}
	srv := httptest.NewUnstartedServer(front)
	srv.EnableHTTP2 = true
	srv.StartTLS()
	t.Cleanup(srv.Close)
	link := newSlowLink(t, strings.TrimPrefix(srv.URL, "https://"))
	phone := &phone{t: t, path: chromium(t), url: "https://" + link, dir: t.TempDir(),
		more: []chromedp.ExecAllocatorOption{chromedp.Flag("ignore-certificate-errors", true)}}
	phone.start()
	t.Cleanup(func() { phone.stop() })
	m := &moments{phone: phone, took: map[string]moment{}}
	t.Logf("%-32s %7s %5s %8s", "moment", "touches", "keys", "seconds")
	m.shift()
	if os.Getenv("STOWKEEPER_TEST_MOMENTS") != "" {
		return // the program of before
	}
	assert.Equal(t, 1, m.took["sealed check"].touches)
	assert.LessOrEqual(t, m.took["sign-in, phone locked"].touches, 3)
	assert.Equal(t, 1, m.took["next bag"].touches)
}

type moment struct {
	touches, keys int
	seconds       float64
}

type moments struct {
	*phone
	now  moment
	took map[string]moment
}

func (m *moments) tap(selector string) {
	m.t.Helper()
	m.now.touches++
	ask[bool](m.phone, fmt.Sprintf(`(e => { if (!e) throw new Error("no such thing on " + document.body.innerText); `+
		`e.click(); return true; })(%s)`, selector))
}

func (m *moments) enter(selector, text string) {
	m.t.Helper()
	m.now.keys += len(text)
	ask[bool](m.phone, fmt.Sprintf(`(e => { e.value = %q; e.dispatchEvent(new Event("input", { bubbles: true })); `+
		`return true; })(%s)`, text, selector))
}

// done waits until a page says something, and notes what it took.
func (m *moments) done(name string, began time.Time, ready string) {
	m.t.Helper()
	for end := time.Now().Add(time.Minute); ; time.Sleep(10 * time.Millisecond) {
		v, err := chromedp.Run(m.tab, chromedp.Evaluate[bool](`document.readyState !== "loading" && !!(`+ready+`)`))
		if err == nil && v {
			break
		}
		if time.Now().After(end) {
			m.t.Fatalf("%s: %s", name, ask[string](m.phone, "location.href + document.body.innerText"))
		}
	}
	m.now.seconds = time.Since(began).Seconds()
	m.t.Logf("%-32s %7d %5d %8.2f", name, m.now.touches, m.now.keys, m.now.seconds)
	m.took[name], m.now = m.now, moment{}
	time.Sleep(3 * time.Second) // what goes on in the background
}

func one(selector string) string { return "document.querySelector(`" + selector + "`)" }

const recorded = `location.search.startsWith("?done=") && document.querySelector("[role=status]")`

func says(text string) string { return "document.body.innerText.includes(`" + text + "`)" }

// signsIn types or taps who it is, and the PIN.
func (m *moments) signsIn(name, pin string) {
	m.t.Helper()
	const names = `[...document.querySelectorAll("main a[href*='who='], main [name=who]")].find(e => ` +
		`e.textContent.includes("%s"))`
	if by := fmt.Sprintf(names, name); ask[bool](m.phone, "!!"+by) {
		m.tap(by)
		m.when(one("main input[type=hidden][name=who]"))
	} else if ask[bool](m.phone, "!!"+one("main input[name=name]:not([type=hidden])")) {
		m.now.touches++
		m.enter(one("main input[name=name]"), name)
		m.now.touches++
	}
	m.enter(one("main [name=secret]"), pin)
	m.tap(one("main form button.main"))
}

func (m *moments) when(ready string) {
	m.t.Helper()
	require.Eventually(m.t, func() bool {
		v, err := chromedp.Run(m.tab, chromedp.Evaluate[bool](`document.readyState !== "loading" && !!(`+ready+`)`))
		return err == nil && v
	}, time.Minute, 10*time.Millisecond, ready)
}

func (m *moments) goes(path string) (began time.Time) {
	m.t.Helper()
	began = time.Now()
	ask[bool](m.phone, fmt.Sprintf("location.assign(%q) || true", path))
	return began
}

// shift is a crew member at a vehicle.
func (m *moments) shift() {
	require.NoError(m.t, m.navigate("/sign-in"))
	m.signsIn("Dilys Wrenfield", "4821")
	m.when("document.body.dataset.person === 'Dilys Wrenfield'")
	time.Sleep(20 * time.Second) // the phone keeps its pages
	m.now = moment{}
	m.done("bag after a scan", m.goes("/b/FM-RS2"), says("FM-RS2")+" && "+one(".actions"))
	began := time.Now()
	m.tap(one(".actions form button"))
	m.done("sealed check", began, recorded)
	began = time.Now()
	m.tap(`([...document.querySelectorAll(".actions a.main")].find(e => e.textContent.includes("Next")) || ` +
		one(`a[href*="/vehicle"], a[href="/board"]`) + `)`)
	m.done("next bag", began, "location.pathname !== '/b/FM-RS2'")
	began = time.Now()
	m.tap(one(`a[href^="/board"]`))
	m.done("board", began, "location.pathname === '/board' && "+one("li.bag"))
	began = time.Now()
	m.tap(one(`a[href*="/vehicle"]`))
	m.done("vehicle", began, "location.pathname === '/vehicle'")
	began = m.goes("/b/FM-AW2/full-check")
	m.now.touches++ // Full check, on the bag's page
	m.when(one("form.counts, form[data-keep]"))
	ticks := ask[int](m.phone, `[...document.querySelectorAll(".seen input:not(:checked)")].map(e => e.click()).length`)
	m.now.touches += ticks
	m.tap(one("form[action$='/full-check'] > button.main"))
	m.done("full check, all in order", began, recorded)
	began = m.goes("/b/FM-AW2/use")
	m.now.touches++
	m.when(one("form[action$='/use']"))
	m.now.touches++
	m.enter(one("[name=incident]"), "26-4471")
	m.tap(one(".stepper button:last-child"))
	m.tap(one("form[action$='/use'] > button.main"))
	m.done("use of one unit", began, "location.pathname === '/b/FM-AW2'")
	began = m.goes("/b/FM-AW3/out-of-service")
	m.when("location.pathname.endsWith('/out-of-service') && document.readyState === 'complete'")
	if ask[bool](m.phone, "!!"+one("[name=reason]")) { // which an older program may not have
		m.now.touches += 2
		m.enter(one("[name=reason]"), "zip torn")
		m.tap(one("form[action$='/out-of-service'] button.main"))
		m.done("out of service", began, "location.pathname === '/b/FM-AW3'")
	}
	if ask[bool](m.phone, "!!"+one(`a[href="/scan"]`)) {
		began = time.Now()
		m.tap(one(`a[href="/scan"]`))
		m.done("scan of the next label", began, "location.pathname === '/scan'")
	}
	require.NoError(m.t, m.navigate("/board"))
	ask[bool](m.phone, `document.querySelector("form[action='/sign-out'] button").click() || true`)
	m.when("!document.body.dataset.person")
	m.now = moment{}
	m.goes("/b/FM-RS3")
	m.when("location.pathname === '/sign-in'")
	began = time.Now()
	m.signsIn("Dilys Wrenfield", "4821")
	m.done("sign-in, phone locked", began, "location.pathname === '/b/FM-RS3' && "+one(".actions"))
}

// newSlowLink is a way to a server with 400 kbit/s in each direction and 150 ms one way. It returns its address.
func newSlowLink(t *testing.T, to string) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			phone, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				time.Sleep(2 * oneWay) // to connect
				server, err := net.Dial("tcp", to)
				if err != nil {
					_ = phone.Close()
					return
				}
				go carry(server, phone)
				carry(phone, server)
			}()
		}
	}()
	return l.Addr().String()
}

const (
	oneWay     = 150 * time.Millisecond
	bytesASec  = 400_000 / 8
	inOnePiece = 1400
)

// carry sends on what comes, piece by piece, each when it would be there.
func carry(to, from net.Conn) {
	type piece struct {
		at   time.Time
		body []byte
	}
	pieces := make(chan piece, 10_000)
	go func() {
		defer close(pieces)
		free := time.Now()
		for {
			buf := make([]byte, inOnePiece)
			n, err := from.Read(buf)
			if n > 0 {
				if now := time.Now(); free.Before(now) {
					free = now
				}
				free = free.Add(time.Duration(n) * time.Second / bytesASec)
				pieces <- piece{free.Add(oneWay), buf[:n]}
			}
			if err != nil {
				return
			}
		}
	}()
	for p := range pieces {
		time.Sleep(time.Until(p.at))
		if _, err := to.Write(p.body); err != nil {
			break
		}
	}
	_ = to.Close()
	_ = from.Close()
	for range pieces { // whoever still sends is let go
		continue
	}
}
