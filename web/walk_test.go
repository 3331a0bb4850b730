package web

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

// TestWalksWithoutSignal walks at random over all that a phone keeps: seals, full, partial and refused checks with
// finds and inspections, uses, out of service and back; with signal and without; with tabs dropped in the middle,
// storage refused, sign-outs, other people, names tapped without signal, new versions of the worker, a quartermaster
// who changes bags meanwhile, and a service that begins again. After each step the page says what a model of this phone
// says, which shares nothing with its script; at the end no record is lost or doubled.
//
// STOWKEEPER_TEST_SEED repeats one walk. STOWKEEPER_TEST_WALKS says how many there are, from that seed on; 1,000 at
// random in the long run, else the same 2.
func TestWalksWithoutSignal(t *testing.T) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		require.NotEqual(t, "1", os.Getenv("STOWKEEPER_NO_SKIP"), "no chromium")
		t.Skip("no chromium on this machine")
	}
	n := map[bool]int{false: 2, true: 1000}[inventorytest.Long]
	if more, err := strconv.Atoi(os.Getenv("STOWKEEPER_TEST_WALKS")); err == nil {
		n = more
	}
	seed := uint64(500)
	if inventorytest.Long {
		seed = uint64(time.Now().UnixNano())
	}
	if s, err := strconv.ParseUint(os.Getenv("STOWKEEPER_TEST_SEED"), 10, 64); err == nil {
		seed = s
		if os.Getenv("STOWKEEPER_TEST_WALKS") == "" {
			n = 1
		}
	}
	t.Logf("seed %d", seed)
	var b *browser
	sum := map[string]int{}
	for i := range n {
		if i%20 == 0 { // what a browser keeps of the walks before makes it slower
			if b != nil {
				b.stop()
			}
			b = (&browser{t: t, lasts: 2 * time.Hour}).start(path)
			b.override("confirm = () => true; IDBFactory.prototype.really = IDBFactory.prototype.open;")
		}
		x := newWalk(t, b, seed+uint64(i), sum)
		for range 14 {
			x.step()
		}
		x.calm()
		x.count()
		t.Logf("walk %d: %d records", i+1, len(x.made))
	}
	t.Logf("%d walks from seed %d: %v", n, seed, sum)
}

// A record of the crew, as the model knows it.
type madeRecord struct {
	bag, kind    string // kind is the end of the form's address
	mark         string // what nobody else wrote
	person       string
	said         bool
	values       url.Values
	stored, gone bool   // gone: with a service that began again
	refused      string // why
	seq          int    // how many the service had stored when it stored it
}

// phoneWalk is one walk: a phone, a service, and the model of what the phone knows.
type phoneWalk struct {
	*testing.T
	b    *browser
	w    *world
	gate *gate
	dice *rand.Rand
	seed uint64
	sum  map[string]int
	log  []string

	person string // who is signed in, or said to be here
	said   bool
	left   bool // somebody signed out without signal, and the service does not know
	down   bool
	made   []*madeRecord
	undo   func() // ends that storage is refused
	mu     sync.Mutex
	known  map[string]snapshot // by what a page carries of it
}

// snapshot is a bag as the service had it when it had stored so many records.
type snapshot struct {
	inventory.Checklist
	seq int
}

var walkBags = []string{"CEN-01", "CEN-02", "CEN-03"}

func newWalk(t *testing.T, b *browser, seed uint64, sum map[string]int) *phoneWalk {
	t.Helper()
	x := &phoneWalk{T: t, b: b, seed: seed, sum: sum, dice: rand.New(rand.NewPCG(seed, 16)), known: map[string]snapshot{}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	x.gate = &gate{answers: map[string]answered{}, look: x.look}
	b.url = "http://" + l.Addr().String()
	x.begin()
	srv := &httptest.Server{Listener: l, Config: &http.Server{Handler: x.gate}}
	srv.Start()
	t.Cleanup(srv.Close)
	x.online(true)
	_, err = chromedp.Call(b.ctx, network.ClearBrowserCookies, cdp.Empty{})
	require.NoError(t, err)
	b.onTerminal(x.w)
	x.signIn("Kim Crew")
	return x
}

// begin begins the service, or begins it again with nothing of what it had.
func (x *phoneWalk) begin() {
	x.Helper()
	x.w = newWorld(x.T)
	x.w.lamps(2)
	x.w.restock("CEN-01", "S1", "LAMP/L0", 1, "LAMP/L1", 1)
	x.w.restock("CEN-03", "S3", "GLOVES/", 1)
	x.w.later(50 * time.Hour) // checks and inspections fall due
	opt := x.w.options()
	opt.BaseURL, opt.DemoTerminal = x.b.url, x.w.terminal
	r := gin.New()
	require.NoError(x, Mount(r, x.w.svc, opt))
	x.gate.serve(r)
	for _, r := range x.made {
		r.gone = r.gone || r.stored
	}
	x.snap()
}

// snap notes what the service says of the bags now.
func (x *phoneWalk) snap() {
	x.Helper()
	x.learn()
	x.look(x.gate.count())
}

func (x *phoneWalk) look(seq int) {
	for _, bag := range walkBags {
		c, err := x.w.svc.Shift.Checklist(x.Context(), admin, bag, lists.Outlook{Horizon: -1})
		if err != nil {
			panic(err)
		}
		x.mu.Lock()
		x.known[(&verdictWalk{t: x.T}).rests(c)] = snapshot{c, seq}
		x.mu.Unlock()
	}
}

// learn takes over what the service answered to the phone.
func (x *phoneWalk) learn() {
	for _, r := range x.made {
		if a, ok := x.gate.answer(r.values.Get("key")); ok && !r.stored {
			r.stored, r.refused, r.seq = a.stored, a.refused, a.seq
		}
	}
}

// gate is the way to the service.
type gate struct {
	mu      sync.Mutex
	r       http.Handler
	cut     bool
	version int
	answers map[string]answered // by the key of the record
	stored  int
	look    func(stored int) // after each that was stored
}

type answered struct {
	stored  bool
	refused string
	seq     int
}

func (g *gate) serve(r http.Handler) { g.mu.Lock(); defer g.mu.Unlock(); g.r = r }
func (g *gate) count() int           { g.mu.Lock(); defer g.mu.Unlock(); return g.stored }

func (g *gate) answer(mark string) (answered, bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	a, ok := g.answers[mark]
	return a, ok
}

func (g *gate) ServeHTTP(out http.ResponseWriter, in *http.Request) {
	g.mu.Lock()
	r, cut, version := g.r, g.cut, g.version
	g.mu.Unlock()
	if cut {
		panic(http.ErrAbortHandler)
	}
	if in.URL.Path == "/worker.js" || in.URL.Path == "/kept-pages" { // of another build of the program
		in.Header.Del("Accept-Encoding")
	}
	rec := httptest.NewRecorder()
	r.ServeHTTP(rec, in)
	body := rec.Body.Bytes()
	if version > 0 {
		body = bytes.ReplaceAll(body, []byte(`"look":"`), fmt.Appendf(nil, `"look":"v%d`, version))
	}
	if in.Method == http.MethodPost && in.PostForm != nil {
		if n := g.note(in.PostForm, rec); n > 0 {
			g.look(n)
		}
	}
	for k, v := range rec.Header() {
		out.Header()[k] = v
	}
	out.Header().Del("Content-Length")
	out.WriteHeader(rec.Code)
	_, _ = out.Write(body)
}

// note keeps what became of a record that a phone sent; it returns how many were stored, 0 where this was not.
func (g *gate) note(form url.Values, rec *httptest.ResponseRecorder) (stored int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	mark := form.Get("key")
	if mark == "" || rec.Code == http.StatusUnauthorized || rec.Code == http.StatusForbidden {
		return 0
	}
	a := g.answers[mark]
	if rec.Code == http.StatusOK && !a.stored || rec.Code == http.StatusSeeOther && !strings.HasPrefix(
		rec.Header().Get("Location"), "/sign-in") {
		g.stored++
		a, stored = answered{stored: true, seq: g.stored}, g.stored
	} else if rec.Code >= 400 && rec.Code < 500 && !a.stored {
		a.refused = rec.Body.String()
	}
	g.answers[mark] = a
	return stored
}

func (x *phoneWalk) fail(format string, args ...any) {
	x.Helper()
	x.Fatalf("seed %d: %s\n%s", x.seed, fmt.Sprintf(format, args...), strings.Join(x.log, "\n"))
}

func (x *phoneWalk) did(format string, args ...any) {
	x.log = append(x.log, fmt.Sprintf(format, args...))
}

func (x *phoneWalk) online(yes bool) {
	x.down = !yes
	x.gate.mu.Lock()
	x.gate.cut = !yes
	x.gate.mu.Unlock()
	x.b.offline(!yes)
}

// signIn has a person sign in, and waits until the phone keeps the pages.
func (x *phoneWalk) signIn(name string) {
	x.Helper()
	x.did("%s signs in", name)
	x.b.as(x.w, name)
	x.person, x.said, x.left = name, false, false
	x.b.open("/board")
	x.kept()
}

func (x *phoneWalk) kept() {
	x.Helper()
	x.b.until("kept for "+x.person, fmt.Sprintf(`(async () => {
		const all = await (await caches.open("pages")).matchAll(), t = await Promise.all(all.map(r => r.text()));
		return all.filter((r, i) => t[i].includes('data-person="%s"')).length >= 24;
	})()`, x.person))
}

// step is one thing that happens.
func (x *phoneWalk) step() {
	x.Helper()
	x.w.later(time.Minute)
	bag := walkBags[x.dice.IntN(len(walkBags))]
	switch d := x.dice.IntN(20); {
	case d < 3:
		x.toggle()
	case d < 4 && !x.down:
		x.restock(bag)
	case d < 6:
		x.change()
	case d < 7 && !x.down && !x.said:
		x.newWorker()
	case d < 8 && !x.down && x.dice.IntN(3) == 0:
		x.again()
	default:
		x.record(bag)
	}
	x.verify(bag)
}

func (x *phoneWalk) toggle() {
	x.Helper()
	x.did("signal %v", x.down)
	x.online(x.down)
	x.sum["cuts"]++
	if !x.down {
		x.back()
	}
}

// back is what people do when there is signal again: who signed out without it, or only tapped a name, signs in.
func (x *phoneWalk) back() {
	x.Helper()
	if x.said || x.left {
		for end := time.Now().Add(time.Minute); !ask[bool](x.b, `location.pathname === "/sign-in"`); { // the service knows it
			require.True(x, time.Now().Before(end), "the service is told who left")
			x.b.open("/board")
		}
		x.signIn([]string{"Kim Crew", "Jo Crew"}[x.dice.IntN(2)])
		return
	}
	ask[bool](x.b, `dispatchEvent(new Event("online")) || true`)
	x.b.open("/board")
	x.sent()
}

// roomAgain ends that storage is refused, and opens a page that knows: one to which it is cannot send what is kept.
func (x *phoneWalk) roomAgain(path string) {
	x.Helper()
	if x.undo != nil {
		x.undo()
		x.undo = nil
		x.b.open(path)
	}
}

// sent waits until the phone has sent what is of who is here.
func (x *phoneWalk) sent() {
	x.Helper()
	x.roomAgain("/board")
	x.b.until("all is sent", `(async () => !(await `+waitingRows+`).some(r => r.state !== "refused" && (r.said || `+
		`r.person === `+strconv.Quote(x.person)+`)))()`)
	x.snap()
	x.kept()
}

// waitingRows is what waits on the phone, wherever it keeps it.
const waitingRows = `new Promise((yes, no) => {
	const beside = Object.keys(localStorage).filter(k => k.startsWith("waiting ")).map(k => JSON.parse(localStorage[k]));
	(IDBFactory.prototype.really || indexedDB.open).call(indexedDB, "stowkeeper").onsuccess = e => {
		const g = e.target.result.transaction("waiting").objectStore("waiting").getAll();
		g.onsuccess = () => { e.target.result.close(); yes(g.result.concat(beside)); };
	};
})`

// restock is a quartermaster who changes a bag meanwhile.
func (x *phoneWalk) restock(bag string) {
	x.Helper()
	x.did("a quartermaster restocks %s", bag)
	x.w.restock(bag, fmt.Sprint("R", len(x.log)), "GLOVES/", 1)
	x.snap()
	x.sum["restocks"]++
}

// change is a sign-out, or another person.
func (x *phoneWalk) change() {
	x.Helper()
	next := map[string]string{"Kim Crew": "Jo Crew", "Jo Crew": "Kim Crew"}[x.person]
	if x.said {
		x.did("%s taps a name", next)
		x.b.open("/no-signal")
	} else {
		x.b.open("/board")
		x.did("%s signs out, signal %v", x.person, !x.down)
		ask[bool](x.b, `document.querySelector("form[action='/sign-out'] button").click() || true`)
		x.sum["sign-outs"]++
		if !x.down {
			x.b.until("signed out", `!document.body.dataset.person && document.readyState === "complete"`)
			x.signIn(next)
			x.sent()
			return
		}
	}
	x.left = true
	x.b.until("the names", `document.querySelectorAll(".names button").length >= 2`)
	ask[bool](x.b, `[...document.querySelectorAll(".names button")].find(e => e.textContent === "`+next+`").click() || `+
		`true`)
	x.b.at("/board")
	x.person, x.said = next, true
	x.sum["said to be"]++
}

// newWorker is a new version of the program: the browser finds it, and takes the new worker.
func (x *phoneWalk) newWorker() {
	x.Helper()
	x.did("a new worker")
	x.gate.mu.Lock()
	x.gate.version++
	x.gate.mu.Unlock()
	askLater[bool](x.b, `navigator.serviceWorker.getRegistration().then(async r => {
		await r.update();
		for (const end = Date.now() + 20000; (r.installing || r.waiting) && Date.now() < end;) {
			await new Promise(t => setTimeout(t, 50));
		}
		return true;
	})`)
	x.b.open("/board")
	x.kept()
	x.sum["workers"]++
}

// again is a demo that began again: other cookies, other people's sessions, nothing of what it had.
func (x *phoneWalk) again() {
	x.Helper()
	x.did("the service begins again")
	x.sent()
	x.begin()
	x.b.open("/board")
	x.b.until("nobody is signed in", `!document.body.dataset.person`)
	x.signIn(x.person)
	x.sent()
	x.sum["begun again"]++
}

var storageWays = [][]string{{}, {}, {}, {}, {"database"}, {"room"}, {"local"}, {"database", "local"}}

// record fills a form in and sends it, sometimes with a value that the service refuses, sometimes through a tab that is
// dropped, sometimes with storage refused.
func (x *phoneWalk) record(bag string) {
	x.Helper()
	r := &madeRecord{bag: bag, person: x.person, said: x.said, mark: fmt.Sprint("W", x.seed%1000, "-", x.sum["forms"])}
	x.sum["forms"]++
	ways := storageWays[x.dice.IntN(len(storageWays))]
	fill, wrong, mend := x.form(r)
	if len(ways) > 0 {
		x.undo = x.b.override(refusing(ways...))
		defer func() { x.roomAgain("/b/" + bag) }()
	}
	x.did("%s: %s of %s, signal %v, storage refused %v: %s", x.person, r.kind, bag, !x.down, ways, fill)
	path := "/b/" + bag + strings.TrimSuffix("/"+r.kind, "/confirm")
	x.b.open(path)
	if !ask[bool](x.b, `!!`+formOf(r)) {
		x.did("… not offered")
		return
	}
	x.b.taken()
	ask[bool](x.b, fmt.Sprintf(fill, formOf(r)))
	long := r.kind == "use" || r.kind == "full-check"
	if long && len(ways) == 0 && x.dice.IntN(4) == 0 {
		x.drop(r, path)
	}
	if wrong != "" && len(ways) == 0 && x.dice.IntN(5) == 0 {
		x.did("… with what is refused")
		ask[bool](x.b, fmt.Sprintf(wrong, formOf(r)))
		x.send(r)
		if x.down || r.refused == "" {
			return
		}
		if x.dice.IntN(2) == 0 {
			x.drop(r, path)
		}
		r.refused = ""
		ask[bool](x.b, fmt.Sprintf(mend, formOf(r)))
	}
	if len(ways) > 0 {
		x.sum["storage refused"]++
	}
	if x.down && len(ways) == 2 {
		x.nothingKept(r)
		return
	}
	x.send(r)
}

// drop closes the tab before anything is sent: all that was entered is there again.
func (x *phoneWalk) drop(r *madeRecord, path string) {
	x.Helper()
	x.did("… and the tab is dropped")
	x.sum["tabs dropped"]++
	x.b.do(chromedp.SendKeys(`form[data-keep][action$='/`+r.kind+`'] [name=note]`, " .")) // as a hand does
	before := ask[string](x.b, fmt.Sprintf(formState, formOf(r)))
	button := ask[string](x.b, formOf(r)+`.pressed || ""`)
	x.b.until("a draft of it all", `Object.entries(localStorage).some(([k, v]) => k.startsWith("draft ") && v.includes(
		JSON.stringify(`+formOf(r)+`.elements.namedItem("note").value)))`)
	x.b.do(chromedp.Navigate("about:blank"))
	x.b.open(path)
	x.b.taken()
	x.b.sees("are restored.")
	if after := ask[string](x.b, fmt.Sprintf(formState, formOf(r))); after != before {
		x.fail("the draft lost something:\n%s\n%s", before, after)
	}
	ask[bool](x.b, fmt.Sprintf(`(%s.pressed = %q) !== null`, formOf(r), button)) // which is pressed next
}

// nothingKept sends what can be neither sent nor kept: the page says so, and sends it once there is signal.
func (x *phoneWalk) nothingKept(r *madeRecord) {
	x.Helper()
	x.take(r)
	x.b.sees("Not recorded.")
	x.sum["nothing kept"]++
	if x.said || x.left { // nobody is signed in to send it, and it was said that it is not recorded
		x.made = x.made[:len(x.made)-1]
		x.b.do(chromedp.Navigate("about:blank"))
		return
	}
	x.online(true)
	ask[bool](x.b, `dispatchEvent(new Event("online"))`)
	x.b.at("/b/" + r.bag)
	x.sent()
	if !r.stored {
		x.fail("not recorded: %s", r.refused)
	}
}

// formOf finds the form of a record on the page.
func formOf(r *madeRecord) string {
	kind := strings.Replace(r.kind, "confirm", "seal-check", 1)
	in := map[bool]string{true: ".actions "}[r.kind == "confirm"]
	return `document.querySelector("` + in + `form[data-keep][action$='/` + kind + `']")`
}

// form chooses a form and what to enter: a script that fills it in, what makes it wrong, and what mends that.
func (x *phoneWalk) form(r *madeRecord) (fill, wrong, mend string) {
	set := func(name, value string) string {
		return fmt.Sprintf("f.elements.namedItem(%q).value = %q; ", name, value)
	}
	sometimes := func(script string) string { return map[bool]string{true: script}[x.dice.IntN(2) == 0] }
	body := ""
	seal := func(name string) string {
		return fmt.Sprintf("if (f.elements[%q]) f.elements[%q].value = %q; ", name, name, "S"+r.mark)
	}
	switch x.dice.IntN(12) {
	case 0, 1:
		r.kind = "confirm"
	case 2:
		r.kind, body = "seal-check", set("seal_seen", "X"+r.mark)
		body += sometimes(`f.pressed = "[name=broken]"; `)
	case 3:
		r.kind, body = "seal", set("seal_set", "S"+r.mark)
	case 4:
		r.kind, body = "out-of-service", set("reason", r.mark)
	case 5, 6, 7:
		r.kind, body = "use", set("incident", r.mark)+set("note", r.mark)+sometimes(seal("seal_set"))
		body += fmt.Sprintf("[...f.querySelectorAll(\"input[name$='@.qty']\")].slice(%d, %d).forEach(e => e.value = 1); ",
			x.dice.IntN(3), 3+x.dice.IntN(2))
		wrong, mend = set("happened_at", "never"), set("happened_at", "")
	default:
		r.kind, body = "full-check", set("note", r.mark)+sometimes(seal("seal_set"))
		body += fmt.Sprintf("[...f.querySelectorAll('.lotrow')].slice(%d, %d).forEach(e => { const n = e.querySelector("+
			"'[name$=\".counted\"]'), w = e.querySelector('select'); "+
			"if (n.value > 0) { n.value -= 1; w.value = 'missing'; } }); ",
			x.dice.IntN(4), x.dice.IntN(6))
		if x.dice.IntN(4) == 0 {
			body += "[...f.querySelectorAll('.seen input')].forEach((e, i) => e.checked = i % 2 === 0); " +
				"f.pressed = '[name=partial]'; "
		} else {
			body += "[...f.querySelectorAll('.seen input')].forEach(e => e.checked = true); "
		}
		if x.dice.IntN(3) == 0 {
			body += set("found[0].what", []string{"found", "unidentified", "training_mark"}[x.dice.IntN(3)]) +
				set("found[0].item", []string{"GLOVES", "MARK", "SHEARS"}[x.dice.IntN(3)]) + set("found[0].qty", "1")
		}
		if how := x.dice.IntN(3); how > 0 {
			body += fmt.Sprintf("f.querySelectorAll(\"[name^='point.'][value=%s]\").forEach(e => { e.checked = true; }); ",
				[]string{"", "pass", "fail"}[how])
		}
		body += sometimes("if (f.elements.return_to_service) f.elements.return_to_service.checked = true; ")
		wrong = set("found[1].what", "found") + set("found[1].item", "GLOVES") + set("found[1].qty", "0")
		mend = set("found[1].what", "") + set("found[1].item", "") + set("found[1].qty", "")
	}
	in := func(s string) string {
		if s == "" {
			return ""
		}
		return "(f => { " + strings.ReplaceAll(s, "%", "%%") +
			"f.querySelectorAll('details').forEach(d => { d.open = true; }); return true; })(%s)"
	}
	return in(body + " "), in(wrong), in(mend)
}

// formState is what stands in the form.
const formState = `[...new FormData(%s)].filter(([n]) => n !== "key" && n !== "position").map(e => e.join("=")).` +
	`join("&")`

// take notes what a form sends, and presses its button.
func (x *phoneWalk) take(r *madeRecord) {
	x.Helper()
	text := ask[string](x.b, `JSON.stringify((f => [...new FormData(f, f.querySelector(f.pressed || "button.main"))])(`+
		formOf(r)+`))`)
	var fields [][2]string
	require.NoError(x, json.Unmarshal([]byte(text), &fields))
	r.values = url.Values{}
	for _, f := range fields {
		r.values.Add(f[0], f[1])
	}
	x.made = append(x.made, r)
	ask[bool](x.b, `(f => f.requestSubmit(f.querySelector(f.pressed || "button.main")) || true)(`+formOf(r)+`)`)
}

// send sends a form, and waits for where that leads.
func (x *phoneWalk) send(r *madeRecord) {
	x.Helper()
	x.sum[map[bool]string{true: "without signal", false: "with signal"}[x.down]]++
	ask[bool](x.b, "window.before = true")
	x.take(r)
	x.b.until("sent or kept", `document.readyState === "complete" && (!window.before || location.hash === "#kept")`)
	x.learn()
	if x.down {
		x.b.at("/b/" + r.bag)
		return
	}
	if r.refused != "" {
		x.sum["refused at once"]++
		x.made = x.made[:len(x.made)-1] // it stands in the form, and its draft is kept
		return
	}
	x.sent()
}

// verify compares what the page of a bag says with what the model knows.
func (x *phoneWalk) verify(bag string) {
	x.Helper()
	x.learn()
	if !ask[bool](x.b, `location.pathname === "/b/`+bag+`"`) {
		x.b.open("/b/" + bag)
	}
	type page struct {
		verdict
		Rests string
	}
	var p page
	var want verdict
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		v, err := chromedp.Run(x.b.ctx, chromedp.Evaluate[page](saidOnPage, chromedp.EvalAwaitPromise))
		if err == nil && v.Rests != "" {
			x.mu.Lock()
			known, ok := x.known[v.Rests]
			x.mu.Unlock()
			if p = v; !ok {
				x.fail("%s rests on what the service never said: %s", bag, v.Rests)
			}
			want = plainVerdict(x.model(bag, known))
			p.verdict = plainVerdict(p.verdict)
			if same(want, p.verdict) {
				break
			}
		}
		if time.Now().After(end) {
			x.fail("%s says\n%+v\nand the model\n%+v\nof %s\n%v\n%s", bag, p.verdict, want, p.Rests, err,
				ask[string](x.b, `location.href + " " + document.readyState + ": " + document.body.innerText`))
		}
	}
	x.sum["verdicts"]++
	x.sum[string(p.State)]++
}

// same tells whether two verdicts say the same. A page begins each sentence with a capital.
func same(a, b verdict) bool {
	plain := func(v verdict) string {
		all := strings.Split(strings.ToLower(strings.Join(slices.Concat(v.Stops, []string{"|"}, v.Gaps), "\n")), "\n")
		slices.Sort(all)
		return strings.ToLower(string(v.State)+v.Headline) + strings.Join(all, "\n")
	}
	return plain(a) == plain(b)
}

const saidOnPage = `(async () => {
	const box = document.querySelector(".verdict[data-rests]");
	const list = s => [...document.querySelectorAll(s)].map(e => e.textContent.trim());
	if (!box || document.readyState !== "complete") return { rests: "" };
	const state = ["ready_with_gaps", "not_ready", "out_of_service", "ready"].find(s => box.classList.contains(s));
	const headline = box.querySelector("h1").textContent;
	const stops = list(".stops li"), first = headline.replace(/^Do not use: /, "");
	return { Rests: box.dataset.rests, state, headline, stops: state === "not_ready" ? [first, ...stops] : stops,
		gaps: list(".gaps:not(.review) li") };
})()`

// model is what this phone knows of a bag: what the service said of it then, and all that was recorded here since,
// by the rules of the service.
func (x *phoneWalk) model(bag string, known snapshot) verdict {
	v := *known.View
	v.Stock, v.Observations, v.Reports = slices.Clone(v.Stock), slices.Clone(v.Observations), slices.Clone(v.Reports)
	v.Items = maps.Clone(v.Items)
	now := inventory.InstantOf(x.w.now())
	moved, reviewed := false, 0
	for _, r := range x.made {
		mends := r.kind != "use" && r.kind != "out-of-service"
		if r.bag != bag || r.gone || r.stored && r.seq <= known.seq || r.refused != "" && mends {
			continue
		}
		of := r.values.Get
		switch r.kind {
		case "out-of-service":
			v.Bag.OutOfService = &inventory.ServicePause{Reason: of("reason")}
		case "confirm", "seal-check":
			lookAtSeal(&v, of("broken") != "", of("seal_seen"), now)
		case "seal":
			openBag(&v, of("opened") != "", false)
			sealBag(&v, of("seal_set"), now)
			if of("seal_set") != "" {
				settleReports(&v, func(s inventory.Reported) bool { return s.Kind == inventory.ReportedOpened })
			}
		case "use":
			for name := range r.values {
				if lot, is := strings.CutSuffix(strings.TrimPrefix(name, "use."), "@.qty"); is {
					add(&v, lot, -openForm(r.values).number(name))
				}
			}
			openBag(&v, true, true)
			sealBag(&v, of("seal_set"), now)
			moved = true
		case "full-check":
			if moved {
				reviewed++
			}
			x.fullCheck(&v, r, moved, now)
			moved = true
		}
	}
	judged := inventory.ReadinessOf(v, now, 0, known.Readiness.HorizonDays)
	out := verdict{State: judged.State, Headline: english(x.T).Text(inventory.Headline(v.Bag, judged))}
	for _, f := range judged.Findings {
		to := &out.Gaps
		if f.Severity == inventory.SeverityStop {
			to = &out.Stops
		}
		*to = append(*to, english(x.T).Text(f.Text))
	}
	if reviewed > 0 {
		out.Gaps = append(out.Gaps, "To review: Full check")
		if out.State == inventory.Ready {
			out.State, out.Headline = inventory.ReadyWithGaps, "OK to go out, 1 gap"
		}
	}
	return out
}

func lookAtSeal(v *inventory.BagView, broken bool, seen string, now inventory.Instant) {
	switch {
	case broken:
		v.Bag.SealState = inventory.SealBroken
	case seen != "" && inventory.SameSeal(seen, v.Bag.Seal):
		v.Bag.SealSeenAt = now
	case seen != "" && v.Bag.Seal != "":
		v.Bag.SealState = inventory.SealDifferent
	}
}

func openBag(v *inventory.BagView, opened, looked bool) {
	if opened {
		v.Bag.Seal, v.SealTwins = "", nil
	}
	if looked || opened && v.Bag.SealState == inventory.SealIntact {
		v.Bag.SealState = inventory.SealNone
	}
}

func sealBag(v *inventory.BagView, number string, now inventory.Instant) {
	if number == "" {
		return
	}
	v.Bag.Seal, v.Bag.SealSeenAt, v.SealTwins = number, now, nil
	if v.Bag.SealState == inventory.SealNone {
		v.Bag.SealState = inventory.SealIntact
	}
}

func add(v *inventory.BagView, lot string, n int) {
	for i := range v.Stock {
		if formatID(v.Stock[i].Lot.ID) == lot {
			v.Stock[i].Qty = max(0, v.Stock[i].Qty+n)
		}
	}
	v.Stock = slices.DeleteFunc(v.Stock, func(s inventory.Stock) bool { return s.Qty == 0 })
}

func settleReports(v *inventory.BagView, which func(inventory.Reported) bool) {
	for i := range v.Reports {
		v.Reports[i].Says = slices.Clone(v.Reports[i].Says)
		for j, s := range v.Reports[i].Says {
			if which(s) {
				v.Reports[i].Says[j] = s.Settle()
			}
		}
	}
}

// fullCheck is a full check of a bag; one that will be reviewed takes away what it misses, and mends nothing.
func (x *phoneWalk) fullCheck(v *inventory.BagView, r *madeRecord, review bool, now inventory.Instant) {
	f := openForm(r.values)
	counted, left := readTicked(f)
	lots := map[int64]bool{}
	for _, l := range counted.lines {
		if d := l.Counted - *l.Expected; d < 0 || !review {
			add(v, formatID(l.LotID), d)
		}
		lots[l.LotID] = true
	}
	for _, in := range x.inspected(f, v) {
		v.Observations = append(v.Observations, in.failed...)
		if len(in.failed) > 0 {
			add(v, formatID(in.lot), -1)
		}
		for i := range v.Stock {
			if v.Stock[i].Lot.ID == in.lot && !review {
				v.Stock[i].Lot.InspectedOn = v.Station.Today(now)
			}
		}
		if !review {
			settleReports(v, func(s inventory.Reported) bool { return s.Kind == inventory.ReportedFailed && s.LotID == in.lot })
		}
	}
	found, _ := readFound(f)
	for _, l := range found {
		switch it := v.Items[l.Item]; {
		case l.Reason == inventory.FoundTrainingMark:
			v.Observations = append(v.Observations, inventory.Observation{Kind: inventory.SawTrainingMark, Item: l.Item,
				Text: message.M("marked for training")})
		case !review && !l.Unidentified:
			i := slices.IndexFunc(v.Stock, func(s inventory.Stock) bool { return s.Lot.Item == l.Item && !s.Lot.Training })
			if i < 0 {
				if it.Code == "" {
					v.Items[l.Item] = inventory.Item{Code: l.Item, Name: map[string]string{"GLOVES": "Gloves, pair",
						"MARK": "Permanent marker", "SHEARS": "Shears"}[l.Item]}
				}
				v.Stock, i = append(v.Stock, inventory.Stock{Lot: inventory.Lot{ID: -1,
					Batch: inventory.Batch{Item: l.Item}}}), len(v.Stock)
			}
			v.Stock[i].Qty += l.Qty
		}
	}
	if review {
		return
	}
	settleReports(v, func(s inventory.Reported) bool {
		switch s.Kind {
		case inventory.ReportedOpened, inventory.ReportedBroken, inventory.ReportedOther:
			return left == 0
		case inventory.ReportedFailed, inventory.ReportedTraining, inventory.ReportedUnknown:
			return false
		}
		return lots[s.LotID]
	})
	lookAtSeal(v, false, r.values.Get("seal_seen"), now)
	openBag(v, true, left == 0)
	sealBag(v, r.values.Get("seal_set"), now)
	if left > 0 {
		return
	}
	v.Bag.LastFullCheck = now
	if r.values.Get("return_to_service") != "" {
		v.Bag.OutOfService = nil
	}
}

type inspectedHere struct {
	lot    int64
	failed []inventory.Observation
}

// inspected is what a check says of devices: those whose points that decide were all passed, or one of them failed.
func (x *phoneWalk) inspected(f *form, v *inventory.BagView) (out []inspectedHere) {
	for lot := range lotsAnswered(f) {
		i := slices.IndexFunc(v.Stock, func(s inventory.Stock) bool { return s.Lot.ID == lot })
		if i < 0 {
			continue
		}
		st := v.Stock[i].Lot
		points, _ := readPoints(f, v.Items[st.Item], lot)
		passed, err := inventory.JudgeInspection(v.Items[st.Item], points)
		require.NoError(x, err)
		in := inspectedHere{lot: lot}
		if !passed {
			in.failed = []inventory.Observation{{Kind: inventory.SawFailedPoint, Item: st.Item, LotID: lot,
				Text: message.Plain(st.Serial + " failed")}}
		}
		out = append(out, in)
	}
	return out
}

// calm brings the signal back, and has each person sign in until nothing waits but what was refused.
func (x *phoneWalk) calm() {
	x.Helper()
	if x.down {
		x.toggle()
	} else if x.said {
		x.back()
	}
	for _, name := range []string{"Jo Crew", "Kim Crew"} {
		x.signIn(name)
		x.b.open("/waiting-here")
		x.sent()
	}
	for _, bag := range walkBags {
		x.verify(bag)
	}
}

// count compares what was recorded with what the service holds and the phone keeps: each once.
func (x *phoneWalk) count() {
	x.Helper()
	x.learn()
	held, want := map[string]int{}, map[string]int{}
	crew := func(name string) bool { return strings.HasSuffix(name, " Crew") }
	for _, bag := range walkBags {
		checks, uses := x.w.recordsOf(bag)
		for _, c := range checks {
			mark := c.Note + strings.TrimPrefix(c.SealSeen, "X")
			if crew(c.By) && c.Kind == inventory.SealCheck && c.SealBroken {
				held["broken "+bag]++
			} else if crew(c.By) && c.Kind == inventory.SealCheck && !strings.HasPrefix(c.SealSeen, "X") {
				held["confirm "+bag]++
			} else if crew(c.By) {
				held[strings.Trim(mark, " .")]++
			}
		}
		for _, u := range uses {
			held[u.Incident]++
		}
		seals, err := x.w.svc.Storeroom.Seals(x.Context(), admin, bag, inventory.Page{Limit: 1000})
		require.NoError(x, err)
		for _, s := range seals {
			if s.Event == inventory.SealWasSet && s.Source == "report" {
				held[s.Number]++
			}
		}
	}
	phone := askLater[[]struct{ Key, State string }](x.b, waitingRows)
	lost := []string{}
	for _, r := range x.made {
		name := map[string]string{"confirm": "confirm " + r.bag, "seal": "S" + r.mark}[r.kind]
		if r.kind == "seal-check" && r.values.Get("broken") != "" {
			name = "broken " + r.bag
		}
		waits := slices.ContainsFunc(phone, func(w struct{ Key, State string }) bool { return w.Key == r.values.Get("key") })
		switch {
		case r.gone:
		case !r.stored && !waits:
			lost = append(lost, fmt.Sprintf("%s of %s by %s (%s)", r.kind, r.bag, r.person, r.refused))
		case r.stored && waits:
			lost = append(lost, "stored, and still waits: "+r.kind)
		case r.stored && r.kind != "out-of-service":
			want[cmp.Or(name, r.mark)]++
		case !r.stored:
			x.sum["refused later"]++
		}
	}
	if len(lost) > 0 || !maps.Equal(want, held) {
		x.fail("lost %v\nwant %v\nheld %v", lost, want, held)
	}
	x.sum["records"] += len(x.made)
}
