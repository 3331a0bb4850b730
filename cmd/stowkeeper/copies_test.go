//go:build unix

package main

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/account"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// copies are several servers on one database, behind a round robin.
type copies struct {
	*testing.T
	db      []string // each one's way to it
	token   string
	servers []*process
	next    atomic.Int64

	mu      sync.Mutex
	clients []*client
	acked   map[string]string // reference of each write that was acknowledged → its status
	at      []time.Time       // when
	doubts  int               // answers that it is not known yet
	away    int               // answers that the database is away, and connections that broke
	refused int
}

func newCopies(t *testing.T, db ...string) *copies {
	c := &copies{T: t, db: db, servers: make([]*process, len(db)), clients: make([]*client, len(db)),
		acked: map[string]string{}}
	for i := range db {
		c.start(i)
	}
	c.token = newToken(t, db[0], "administrator", "driver")
	for i := range db {
		c.clients[i] = c.clients[i].as(c.token)
	}
	return c
}

func (c *copies) start(i int) {
	c.Helper()
	p := serve(c, c.db[i])
	c.mu.Lock()
	defer c.mu.Unlock()
	c.servers[i], c.clients[i] = p, newClient(c, p, c.token)
	c.clients[i].http = &http.Client{Timeout: time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 64}}
}

// one is the next copy's client.
func (c *copies) one() *client {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.clients[int(c.next.Add(1))%len(c.clients)]
}

// write posts something under its reference as key until it is known what became of it, each time to another copy. A
// copy that is killed gives no answer; one whose database is away says so, and when to come again.
func (c *copies) write(ref, path string, body any) (reply, error) {
	for deadline := time.Now().Add(patience / 4); ; time.Sleep(50 * time.Millisecond) {
		a, err := c.one().send(http.MethodPost, "/api/v1"+path, body, "Idempotency-Key", ref)
		if time.Now().After(deadline) {
			return a, fmt.Errorf("%s is not answered: %d %s %w", ref, a.status, a.body, err)
		}
		c.mu.Lock()
		switch {
		case err != nil:
			c.away++
		case a.status == http.StatusServiceUnavailable:
			kind := part[struct{ Kind string }](a).Kind
			c.away++
			if kind == "in_doubt" {
				c.doubts++
			}
			if a.header.Get("Retry-After") == "" || kind != "in_doubt" && kind != "unavailable" ||
				strings.Contains(string(a.body), "others were changing") {
				c.mu.Unlock()
				return a, fmt.Errorf("%s: %s", ref, a.body)
			}
		default:
			defer c.mu.Unlock()
			if a.status == http.StatusCreated {
				c.acked[ref] = part[struct{ Status string }](a).Status
				c.at = append(c.at, time.Now())
			} else if c.refused++; a.status != http.StatusConflict {
				return a, fmt.Errorf("%s: %d %s", ref, a.status, a.body)
			}
			return a, nil
		}
		c.mu.Unlock()
	}
}

// get reads something from any copy that answers.
func (c *copies) get(path string) (a reply, err error) {
	for range 2000 {
		if a, err = c.one().send(http.MethodGet, "/api/v1"+path, nil); err == nil && a.status == http.StatusOK {
			return a, nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	return a, errors.Join(fmt.Errorf("%s: %d %s", path, a.status, a.body), err)
}

// drive has clients write one thing after another until over says so; the first failure ends them all.
func (c *copies) drive(clients int, over func() bool, write func(dice *rand.Rand, client, n int) error) {
	c.Helper()
	var group sync.WaitGroup
	var failed atomic.Pointer[error]
	for client := range clients {
		group.Go(func() {
			dice := rand.New(rand.NewPCG(18, uint64(client)))
			for n := 0; !over() && failed.Load() == nil; n++ {
				if err := write(dice, client, n); err != nil {
					failed.CompareAndSwap(nil, &err)
				}
			}
		})
	}
	group.Wait()
	if err := failed.Load(); err != nil {
		require.NoError(c, *err)
	}
}

// noted is how often each reference stands in what a list of the API tells.
func (c *copies) noted(to *client, path string, of func(noted) string) map[string]int {
	c.Helper()
	out := map[string]int{}
	for _, n := range all[noted](to, path) {
		if ref := of(n); ref != "" {
			out[ref]++
		}
	}
	return out
}

type noted struct{ Reference, Note, Incident, Status string }

// exactly compares what was acknowledged with what is there: all of it, once. What was asked for and never answered may
// be there or not.
func (c *copies) exactly(prefix string, there map[string]int) {
	c.Helper()
	var lost, doubled []string
	for ref := range c.acked {
		if strings.HasPrefix(ref, prefix) && there[ref] == 0 {
			lost = append(lost, ref)
		}
	}
	for ref, n := range there {
		if strings.HasPrefix(ref, prefix) && n > 1 {
			doubled = append(doubled, ref)
		}
	}
	assert.Empty(c, lost, "acknowledged and lost")
	assert.Empty(c, doubled, "there twice")
}

// TestTwoCopies has 64 clients check and use the same bags, receive into one batch and move units of another to and fro
// through two copies, one of which is killed meanwhile and comes back. Nothing is oversold, lost or counted twice, no
// deadlock reaches a client, and the chains are whole.
func TestTwoCopies(t *testing.T) {
	lasts := 6 * time.Second
	if inventorytest.Long {
		lasts = 2 * time.Minute
	}
	db := storetest.Database(t, store.Postgres)
	c := newCopies(t, db, db)
	to := c.one()
	lots := c.stock()
	scarce := part[struct{ ID int64 }](to.post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE",
		"batch_no": "scarce", "end_printed": "2199-01", "qty": 40})).ID
	for bag := range lots {
		to.post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": bag, "end_printed": "2199-01",
			"qty": 10000})
	}
	var moved [2]atomic.Int64 // out and back
	end := time.Now().Add(lasts)
	var killed sync.WaitGroup
	killed.Go(func() {
		time.Sleep(lasts / 2)
		c.servers[1].kill()
		time.Sleep(lasts / 10)
		c.start(1)
	})
	defer killed.Wait()
	c.drive(64, func() bool { return time.Now().After(end) }, func(dice *rand.Rand, client, n int) error {
		bag := []string{"B1", "B2"}[dice.IntN(2)]
		ref := func(what string) string { return fmt.Sprintf("%s-%d-%d", what, client, n) }
		switch dice.IntN(4) {
		case 0:
			_, err := c.write(ref("receipt"), "/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": "R",
				"end_printed": "2199-01", "qty": 1, "reference": ref("receipt")})
			return err
		case 1:
			way, qty := dice.IntN(2), 1+dice.IntN(20)
			place := []string{"N1-STORE", "N1-SPARE"}
			a, err := c.write(ref("move"), "/movements", fields{"movements": []fields{{"lot_id": scarce, "qty": qty,
				"from": place[way], "to": place[1-way], "reason": "transfer", "reference": ref("move")}}})
			if err == nil && a.status == http.StatusCreated {
				moved[way].Add(int64(qty))
			}
			return err
		}
		return c.atBag(bag, lots[bag], dice.IntN(3), ref)
	})
	killed.Wait()
	t.Logf("%d writes acknowledged in %v by 64 clients, %d refused for want of stock, %d sent again", len(c.acked), lasts,
		c.refused, c.away)
	assert.Greater(t, len(c.acked), 30)
	assert.Positive(t, c.refused, "stock was short at times")
	to = c.one()
	c.exactly("receipt", c.noted(to, "/movements?station=N1", func(n noted) string { return n.Reference }))
	checks, uses := map[string]int{}, map[string]int{}
	for _, bag := range []string{"B1", "B2"} {
		maps.Copy(checks, c.noted(to, "/bags/"+bag+"/checks?", func(n noted) string { return n.Note }))
		maps.Copy(uses, c.noted(to, "/bags/"+bag+"/uses?", func(n noted) string { return n.Incident }))
	}
	c.exactly("check", checks)
	c.exactly("use", uses)
	out := moved[0].Load() - moved[1].Load()
	want := map[string]int64{"N1-STORE": 40 - out, "N1-SPARE": out}
	maps.DeleteFunc(want, func(_ string, n int64) bool { return n == 0 })
	assert.Equal(t, want, c.held(to, "scarce"), "what was acknowledged, moved once")
	received := 0
	for ref := range c.acked {
		if strings.HasPrefix(ref, "receipt") {
			received++
		}
	}
	assert.Equal(t, map[string]int64{"N1-STORE": int64(received)}, c.held(to, "R"))
	for _, s := range c.servers {
		s.stop()
	}
	assert.Contains(t, succeed(t, "verify", "--db", db), " 0 faults")
}

// atBag reads a bag and records something of it: a count that differs or not, a use, or a restock of what is empty.
func (c *copies) atBag(bag string, lot int64, n int, ref func(string) string) error {
	a, err := c.get("/bags/" + bag)
	if err != nil {
		return err
	}
	type lots []struct {
		LotID int64 `json:"lot_id"`
		Qty   int
	}
	sheet := part[struct {
		Position int64
		Pouches  []struct{ Lines []struct{ Lots lots } }
		Surplus  lots // where two filled it at once
	}](a)
	held, on := 0, []lots{sheet.Surplus}
	for _, p := range sheet.Pouches {
		for _, line := range p.Lines {
			on = append(on, line.Lots)
		}
	}
	for _, l := range slices.Concat(on...) {
		held += l.Qty
	}
	switch {
	case held == 0:
		_, err = c.write(ref("restock"), "/bags/"+bag+"/restocks", fields{"lines": []fields{{"lot_id": lot, "qty": 2}}})
		return err
	case n < 2:
		line := fields{"lot_id": lot, "counted": n + 1}
		if n+1 != held {
			line["reason"], line["incident"] = map[bool]string{true: "found", false: "missing"}[n+1 > held], "I"
		}
		_, err = c.write(ref("check"), "/bags/"+bag+"/checks", fields{"kind": "full", "note": ref("check"),
			"seen_position": sheet.Position, "lines": []fields{line}})
		return err
	}
	_, err = c.write(ref("use"), "/bags/"+bag+"/uses", fields{"incident": ref("use"), "seen_position": sheet.Position,
		"lines": []fields{{"lot_id": lot, "qty": 1}}})
	return err
}

// stock makes a station with a spare store, and two bags that are full, and returns the lot in each.
func (c *copies) stock() map[string]int64 {
	to, lots := c.one(), map[string]int64{}
	to.post("/stations", fields{"code": "N1", "name": "North One", "timezone": "Europe/London"})
	to.post("/places", fields{"code": "N1-SPARE", "station": "N1", "kind": "store", "purpose": "issue",
		"name": "Spare store"})
	to.post("/items", fields{"code": "GAUZE", "name": "Gauze", "category": "plain dressing", "unit": "each",
		"tracked_by": "lot", "dated": true})
	to.post("/kit-lists", fields{"code": "SMALL", "name": "Small bag", "lines": []fields{{"item": "GAUZE", "par": 2,
		"minimum": 1}}})
	for _, bag := range []string{"B1", "B2"} {
		to.post("/bags", fields{"code": bag, "station": "N1", "name": "Small bag", "kit_list": "SMALL"})
		lots[bag] = part[struct{ ID int64 }](to.post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE",
			"batch_no": bag, "end_printed": "2199-01", "qty": 2})).ID
		to.post("/bags/"+bag+"/restocks", fields{"lines": []fields{{"lot_id": lots[bag], "qty": 2}}})
	}
	return lots
}

// held is where the units of a batch are.
func (c *copies) held(to *client, batch string) map[string]int64 {
	c.Helper()
	out := map[string]int64{}
	for _, l := range all[struct {
		BatchNo string `json:"batch_no"`
		Where   []struct {
			Place string
			Qty   int64
		}
	}](to, "/lots?station=N1") {
		for _, w := range l.Where {
			if l.BatchNo == batch {
				out[w.Place] += w.Qty
			}
		}
	}
	return out
}

// TestCopiesShareWhatTheyKnow: who is signed in, how often somebody tried, what was answered under a key, what is being
// delivered and what was revoked is one thing, whichever copy is asked.
func TestCopiesShareWhatTheyKnow(t *testing.T) {
	db := storetest.Database(t, store.Postgres)
	c := newCopies(t, db, db)
	a, b := c.clients[0], c.clients[1]
	c.stock()

	const secret = "seven lamps at dusk"
	o := stowkeeperWith(t, secret+"\n"+secret+"\n", nil, "person", "add", "--db", db, "--role", "manager", "Ada")
	require.Zero(t, o.code, o.err)
	cookie := func(to *client, secret string) (*http.Cookie, int) {
		form := url.Values{"name": {"Ada"}, "secret": {secret}}
		req, err := http.NewRequest(http.MethodPost, to.base+"/sign-in", strings.NewReader(form.Encode()))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Origin", to.base)
		res, err := http.DefaultTransport.RoundTrip(req)
		require.NoError(t, err)
		defer res.Body.Close()
		i := slices.IndexFunc(res.Cookies(), func(c *http.Cookie) bool { return c.Name == "stowkeeper_session" })
		if i < 0 {
			return nil, res.StatusCode
		}
		return res.Cookies()[i], res.StatusCode
	}
	page := func(to *client, method, path string, session *http.Cookie) int {
		req, err := http.NewRequest(method, to.base+path, nil)
		require.NoError(t, err)
		req.AddCookie(&http.Cookie{Name: session.Name, Value: session.Value})
		req.Header.Set("Origin", to.base)
		res, err := http.DefaultTransport.RoundTrip(req)
		require.NoError(t, err)
		defer res.Body.Close()
		return res.StatusCode
	}
	session, status := cookie(a, secret)
	require.NotNil(t, session, status)
	assert.Equal(t, http.StatusOK, page(b, http.MethodGet, "/account", session), "signed in at one, known to the other")
	page(b, http.MethodPost, "/sign-out", session)
	assert.Equal(t, http.StatusSeeOther, page(a, http.MethodGet, "/account", session), "signed out at the other")
	for try := range account.FreeAttempts {
		_, status = cookie([]*client{a, b}[try%2], "wrong")
		assert.Equal(t, http.StatusUnauthorized, status)
	}
	for _, to := range []*client{a, b} {
		_, status = cookie(to, secret)
		assert.Equal(t, http.StatusTooManyRequests, status, "tries at both count together")
	}

	receipt := fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": "K", "end_printed": "2199-01", "qty": 1}
	first, again := a.keyed("one-key", "/receipts", receipt), b.keyed("one-key", "/receipts", receipt)
	assert.Equal(t, string(first.body), string(again.body))
	assert.Equal(t, "true", again.header.Get("Idempotent-Replay"))
	// and at once
	var group sync.WaitGroup
	for i := range 8 {
		group.Go(func() {
			_, err := c.write("together", "/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": "T",
				"end_printed": "2199-01", "qty": 1})
			assert.NoError(t, err, i)
		})
	}
	group.Wait()
	assert.Equal(t, map[string]int64{"N1-STORE": 1}, c.held(a, "T"))

	// What one copy read before, and another changed, it reads as it is.
	for n := range 6 {
		name := fmt.Sprint("Gauze ", n)
		from, to := []*client{a, b}[n%2], []*client{b, a}[n%2]
		was := to.get("/items/GAUZE")
		from.want(http.StatusOK, http.MethodPatch, "/items/GAUZE", fields{"name": name}, "If-Match",
			was.header.Get("ETag"))
		assert.Equal(t, name, part[struct{ Name string }](to.get("/items/GAUZE")).Name)
	}
	scanner := newToken(t, db, "manager", "scanner")
	for _, to := range []*client{a, b} {
		to.as(scanner).get("/bags")
	}
	succeed(t, "token", "revoke", "--db", db, "scanner")
	for _, to := range []*client{a, b} {
		to.as(scanner).want(http.StatusUnauthorized, http.MethodGet, "/bags", nil)
	}
}
