//go:build unix

package main

import (
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	argon2 "stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestNoSignal has a crew make checks and uses on 20 bags in a browser, 200 in
// the long run and else 80, while the network is cut at random moments, answers are lost after the server
// has done what was asked, the server is killed and started again on the same
// port and database, tabs are closed and reopened, the whole browser is killed
// once, and a quartermaster restocks bags meanwhile. Afterwards the server
// holds each record exactly once, and every one that met a bag that had changed
// waits for the quartermaster and is on their page.
//
// STOWKEEPER_TEST_SEED repeats the dice of another run; the moments themselves
// are the machine's.
func TestNoSignal(t *testing.T) {
	n := newNoSignal(t)
	n.phone.signIn(crewName, crewPIN)
	n.awaitKept()
	for i := range records {
		if i%50 == 0 {
			t.Logf("%d records after %s", i, time.Since(n.began).Round(time.Second))
		}
		n.meanwhile(i)
		n.record(i)
	}
	n.calm()
	n.look()
	t.Logf("seed %d: %d records in %s: %d made without signal; %d cuts, %d answers made lost, %d server kills, %d tabs "+
		"closed, 1 browser killed; %d posted, %d wait as conflicts",
		n.seed, records, time.Since(n.began).Round(time.Second), n.without, n.cuts, n.deaf, n.kills, n.tabs, n.posted,
		n.waits)
}

const (
	bags     = 20
	inEach   = 60 // gauzes in each bag
	crewName = "Wilma Testcrew"
	crewPIN  = "4711"
)

// records is how many checks and uses the crew make.
var records = map[bool]int{false: 80, true: 200}[inventorytest.Long]

func init() {
	if inventorytest.Raced {
		records = 30
	}
}

// noSignal is the phone, the server, and all that goes wrong between them.
type noSignal struct {
	*testing.T
	dice   *rand.Rand
	seed   uint64
	db     string
	token  string
	lot    int64
	listen string
	server *process // nil while it is dead
	link   *link
	phone  *phone
	began  time.Time

	made      map[string]int // what the crew recorded: "use I-3", "full F-4", "seal BAG-07" with how often
	restocked int
	down      bool

	without, cuts, deaf, kills, tabs int
	posted, waits                    int
}

func newNoSignal(t *testing.T) *noSignal {
	n := &noSignal{T: t, seed: uint64(time.Now().UnixNano()), db: storetest.Empty(t, store.SQLite),
		made: map[string]int{}, began: time.Now()}
	if s, err := strconv.ParseUint(os.Getenv("STOWKEEPER_TEST_SEED"), 10, 64); err == nil {
		n.seed = s
	}
	t.Logf("seed %d", n.seed)
	n.dice = rand.New(rand.NewPCG(n.seed, 8))
	browser := chromium(t)
	n.fill()
	n.token = newToken(t, n.db, "administrator", "meanwhile")
	free, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	n.listen = free.Addr().String()
	require.NoError(t, free.Close())
	n.link = newLink(t, n.listen)
	terminal := enrol(t, n.db, "N1")
	n.start()
	n.phone = newPhone(t, browser, n.link.url())
	n.phone.terminal = terminal
	return n
}

// open opens the database in this process, while no server runs on it.
func (n *noSignal) open() (*services.All, func()) {
	n.Helper()
	s, err := store.Open(n.Context(), n.db, store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(n, err)
	return services.New(s, clock, services.Options{}), func() { require.NoError(n, s.Close()) }
}

func bagCode(i int) string { return fmt.Sprintf("BAG-%02d", i) }

// fill makes a station with twenty sealed bags, a crew and a quartermaster.
func (n *noSignal) fill() {
	svc, done := n.open()
	defer done()
	ctx := n.Context()
	do := func(_ any, err error) { n.Helper(); require.NoError(n, err) }
	do(svc.Lists.CreateStation(ctx, operator, inventory.Station{Code: "N1", Name: "North One", Timezone: "Europe/London"}))
	do(svc.Lists.CreateItem(ctx, operator, inventory.Item{Code: "GAUZE", Name: "Gauze",
		Category: inventory.CategoryPlainDressing, Unit: "each", TrackedBy: inventory.ByLot}))
	do(svc.Lists.CreateKitList(ctx, operator, inventory.KitList{Code: "SMALL", Name: "Small bag", Sealed: true,
		SealCheckHours: 24, FullCheckDays: 31,
		Lines: []inventory.Line{{Item: "GAUZE", Pouch: "Lid", Par: inEach, Minimum: 1}}}))
	do(svc.Account.CreatePerson(ctx, operator, inventory.Person{Name: crewName, Role: inventory.Crew,
		Stations: []string{"N1"}}, crewPIN, argon2.Argon2id{}))
	lot, err := svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: "N1-STORE", Item: "GAUZE", BatchNo: "G-1",
		Qty: 2 * bags * inEach})
	require.NoError(n, err)
	n.lot = lot.ID
	for i := range bags {
		do(svc.Lists.CreateBag(ctx, operator, inventory.Bag{Code: bagCode(i), Station: "N1", Name: "Small bag",
			KitList: "SMALL"}))
		do(svc.Storeroom.RecordRestock(ctx, operator, inventory.Restock{Bag: bagCode(i), SealSet: "100" + strconv.Itoa(i),
			Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: inEach}}}, 0))
	}
}

func (n *noSignal) start() {
	n.Helper()
	n.server = begin(n, servesLine, "serve", "--db", n.db, "--listen", n.listen, "--base-url", n.link.url())
}

// awaitKept waits until the phone keeps the board and five pages of each bag.
func (n *noSignal) awaitKept() {
	n.Helper()
	n.await("the phone keeps every page", func() bool {
		return 1+5*bags == ask[int](n.phone, `caches.open("pages").then(c => c.keys())`+
			`.then(k => k.filter(r => !r.url.endsWith("/scan")).length)`)
	})
}

// await waits until something is true, and leaves the phone time between looks.
func (n *noSignal) await(what string, is func() bool) {
	n.Helper()
	for deadline := time.Now().Add(patience); !is(); time.Sleep(200 * time.Millisecond) {
		require.True(n, time.Now().Before(deadline), "waited too long until %s", what)
	}
}

// meanwhile is what happens around the crew before a record.
func (n *noSignal) meanwhile(i int) {
	n.Helper()
	if i == records/2 {
		n.mend()
		n.phone.restart()
		if n.server == nil {
			n.start() // a kept page would say that they are signed in
		}
		n.phone.signIn(crewName, crewPIN) // where its cookie had not reached the disk
	}
	if n.dice.IntN(14) == 0 {
		n.tabs++
		n.phone.newTab()
		n.phone.online(!n.down)
	}
	switch x := n.dice.IntN(45); {
	case n.server == nil && x < 15:
		n.start()
	case n.server != nil && x == 0:
		n.kills++
		n.server.kill()
		n.server = nil
	case n.server != nil && x < 5:
		n.restock()
	}
	switch x := n.dice.IntN(10); {
	case x < 4:
		n.mend()
	case x < 7:
		n.cut()
	case x < 8 && !n.down:
		n.deaf++
		n.link.set(false, true)
	}
}

func (n *noSignal) mend() {
	n.down = false
	n.link.set(false, false)
	n.phone.online(true)
}

func (n *noSignal) cut() {
	if !n.down {
		n.cuts++
	}
	n.down = true
	n.link.set(true, false)
	n.phone.online(false)
}

// restock is a quartermaster who changes a bag that a crew may be looking at.
func (n *noSignal) restock() {
	n.Helper()
	newClient(n, n.server, n.token).post("/bags/"+bagCode(n.dice.IntN(bags))+"/restocks",
		fields{"lines": []fields{{"lot_id": n.lot, "qty": 1}}, "seal_set": "R" + strconv.Itoa(n.restocked)})
	n.restocked++
}

// record makes the crew's next record. Now and then the network goes down in
// the middle of it.
func (n *noSignal) record(i int) {
	n.Helper()
	bag := bagCode(n.dice.IntN(bags))
	if n.down || n.server == nil {
		n.without++
	} else if n.dice.IntN(4) == 0 {
		n.cuts++
		n.down = true
		at := time.AfterFunc(time.Duration(n.dice.IntN(250))*time.Millisecond, func() { n.link.set(true, false) })
		defer func() {
			at.Stop()
			n.cut()
		}()
	}
	seal := "S" + strconv.Itoa(i)
	switch x := n.dice.IntN(10); {
	case x < 4:
		if !n.phone.record("/b/"+bag, `.actions form button`, nil) { // what waits here says that another seal is on it
			n.phone.record("/b/"+bag+"/seal-check", "form[action$='/seal-check'] button",
				map[string]string{"[name=seal_seen]": "?"})
		}
		n.made["seal "+bag]++
	case x < 8:
		n.phone.record("/b/"+bag+"/use", "form[data-keep] > button.main", map[string]string{"[name=incident]": "I-" + seal,
			"[name^='use.'][name$='.qty']": "1", "[name=seal_set]": seal})
		n.made["use I-"+seal]++
	default:
		n.phone.record("/b/"+bag+"/full-check", "form[data-keep] > button.main", map[string]string{"[name=note]": "F-" + seal,
			"[name=seal_set]": seal})
		n.made["full F-"+seal]++
	}
}

// calm brings the network and the server back, and waits until nothing waits
// on the phone. Nobody does more than keep one page open and press its button.
func (n *noSignal) calm() {
	n.Helper()
	if n.server == nil {
		n.start()
	}
	n.mend()
	n.phone.open("/waiting-here")
	pressed := time.Now()
	n.await("the phone has sent all", func() bool {
		left := n.phone.waiting()
		for _, w := range left {
			require.NotEqual(n, "refused", w.State, "%+v", w)
		}
		if len(left) > 0 && time.Since(pressed) > 5*time.Second {
			pressed = time.Now()
			ask[bool](n.phone, `document.querySelector(".send button").click() || true`)
		}
		return len(left) == 0
	})
	n.await("the page says so", func() bool {
		return strings.Contains(ask[string](n.phone, "document.body.innerText"), "All sent.")
	})
}

// look compares what the crew recorded with what the server holds.
func (n *noSignal) look() {
	n.server.stop()
	svc, done := n.open()
	defer done()
	ctx := n.Context()
	checks, err := svc.Shift.Checks(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(n, err)
	uses, err := svc.Shift.Uses(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(n, err)
	held, wait := map[string]int{}, map[string]bool{}
	for _, c := range checks {
		held[map[inventory.CheckKind]string{inventory.SealCheck: "seal " + c.Bag, inventory.FullCheck: "full " +
			c.Note}[c.Kind]]++
		n.lookAtRecord("/review/checks/"+strconv.FormatInt(c.ID, 10), c.By, c.Status, c.ReviewBecause.String(), c.HappenedAt,
			c.RecordedAt, wait)
	}
	usedUp := 0
	for _, u := range uses {
		held["use "+u.Incident]++
		n.lookAtRecord("/review/uses/"+strconv.FormatInt(u.ID, 10), u.By, u.Status, u.ReviewBecause.String(), u.HappenedAt,
			u.RecordedAt, wait)
		if u.Status == inventory.StatusAccepted {
			usedUp++
		}
	}
	assert.Equal(n, n.made, held, "each record exactly once")
	n.posted, n.waits = records-len(wait), len(wait)
	assert.Positive(n, n.waits, "records that met a bag that had changed")
	n.lookAtStock(svc, usedUp)
	n.lookAtDesk(svc, wait)
}

func (n *noSignal) lookAtRecord(page, by string, status inventory.RecordStatus, because string, done,
	recorded inventory.Instant, wait map[string]bool) {
	assert.Equal(n, crewName, by, page)
	assert.False(n, done < inventory.InstantOf(n.began) || done > recorded, "%s was done at %s and recorded at %s", page,
		done, recorded)
	if status == inventory.StatusToReview {
		wait[page] = true
		assert.Contains(n, because, "changed after the crew looked", page)
	}
}

// lookAtStock counts the gauzes: what was posted came out of the bags once.
func (n *noSignal) lookAtStock(svc *services.All, usedUp int) {
	inBags := 0
	for i := range bags {
		c, err := svc.Shift.Checklist(n.Context(), operator, bagCode(i), lists.Outlook{})
		require.NoError(n, err)
		for _, g := range lists.ToCount(c) {
			for _, row := range g.Rows {
				for _, l := range row.Lots {
					inBags += l.Qty
				}
			}
		}
	}
	assert.Equal(n, bags*inEach+n.restocked-usedUp, inBags, "gauzes in the bags")
	succeed(n, "verify", "--db", n.db)
}

// lookAtDesk opens the quartermaster's page: each conflict is on it, and
// nothing else.
func (n *noSignal) lookAtDesk(svc *services.All, wait map[string]bool) {
	p := &program{svc: svc, baseURL: "https://kit.example.org", log: slog.New(slog.DiscardHandler)}
	h, err := p.handler()
	require.NoError(n, err)
	_, err = svc.Account.CreatePerson(n.Context(), operator, inventory.Person{Name: "Quentin Testmaster",
		Role: inventory.Quartermaster, Stations: []string{"N1"}}, "a long password", argon2.Argon2id{})
	require.NoError(n, err)
	send := func(method, path, body string, header ...string) *httptest.ResponseRecorder {
		r := httptest.NewRequestWithContext(n.Context(), method, "https://kit.example.org"+path, strings.NewReader(body))
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		rec := httptest.NewRecorder()
		h.ServeHTTP(rec, r)
		return rec
	}
	in := send(http.MethodPost, "/sign-in", url.Values{"name": {"Quentin Testmaster"},
		"secret": {"a long password"}}.Encode(), "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site",
		"same-origin")
	require.Equal(n, http.StatusSeeOther, in.Code)
	session := in.Result().Cookies()[0]
	page := send(http.MethodGet, "/review", "", "Cookie", session.Name+"="+session.Value).Body.String()
	for path := range wait {
		assert.Contains(n, page, `href="`+path+`"`)
	}
	assert.Equal(n, len(wait), strings.Count(page, `href="/review/checks/`)+strings.Count(page, `href="/review/uses/`))
}
