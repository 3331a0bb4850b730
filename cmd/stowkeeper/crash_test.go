//go:build unix

package main

import (
	"database/sql"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestCrash has clients write receipts, checks and batches of movements while
// the server is killed with SIGKILL again and again and started anew. A client
// that gets no answer asks again with the same key. Afterwards every write that
// was acknowledged is there exactly once, and the ledger verifies.
//
// In every second round the server is killed inside a transaction, and the test
// knows that it was: it first freezes the process with SIGSTOP, looks from
// outside whether a transaction that writes is open (see crash.open), thaws it
// and tries again where none is, and then kills what stands still. Where the
// database holds as many answered requests after the restart as it did before
// the kill, the transaction that was open has left nothing. It may hold one
// more: then the transaction was at the end of its commit.
func TestCrash(t *testing.T) {
	kills := 6
	if inventorytest.Long {
		kills = 20
	}
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			c := newCrash(t, storetest.Database(t, engine), engine)
			c.start()
			c.setUp()
			c.write()
			for round := range kills {
				c.awaitWrites(1 + c.dice.IntN(writesARound))
				c.crash(round%2 == 0)
			}
			c.finish()
			assert.Positive(t, c.inside, "kills inside a transaction")
			c.look()
			t.Logf("%d kills, %d of them surely inside a transaction; %d writes acknowledged, %d sent again for want of an "+
				"answer, %d of those had been done",
				kills, c.inside, len(c.done), c.again, c.replayed)
		})
	}
}

var (
	batch        = 1000 // movements posted together: enough that the transaction is long
	writesARound = 15   // most writes that are awaited between two kills
)

// crash is a server that dies often, and its clients.
type crash struct {
	*testing.T
	db, engine string
	token      string
	server     *process
	dice       *rand.Rand
	lots       map[string]int64
	writers    sync.WaitGroup
	inside     int // kills that were inside a transaction

	mu       sync.Mutex
	client   *client // nil while the server is down
	over     bool
	done     map[string]int // acknowledged writes: how many movements each made
	again    int
	replayed int
}

func newCrash(t *testing.T, db, engine string) *crash {
	c := &crash{T: t, db: db, engine: engine, dice: rand.New(rand.NewPCG(7, 7)), lots: map[string]int64{},
		done: map[string]int{}}
	serve(t, db).stop() // makes the database
	c.token = newToken(t, db, "administrator", "crash")
	t.Cleanup(func() { c.end(); c.writers.Wait() }) // also where the test has failed
	return c
}

// start starts the server without telling the clients.
func (c *crash) start() *client {
	c.Helper()
	c.server = serve(c, c.db)
	return newClient(c, c.server, c.token)
}

// tell tells the clients where the server is; nil for nowhere.
func (c *crash) tell(to *client) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.client = to
}

func (c *crash) end() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.over = true
}

// setUp makes a station with a spare store, two bags and the lots that move.
func (c *crash) setUp() {
	to := newClient(c, c.server, c.token)
	to.post("/stations", fields{"code": "N1", "name": "North One", "timezone": "Europe/London"})
	to.post("/places", fields{"code": "N1-SPARE", "station": "N1", "kind": "store", "purpose": "issue",
		"name": "Spare store"})
	to.post("/items", fields{"code": "GAUZE", "name": "Gauze", "category": "plain dressing", "unit": "each",
		"tracked_by": "lot", "dated": true})
	to.post("/kit-lists", fields{"code": "SMALL", "name": "Small bag", "lines": []fields{{"item": "GAUZE", "par": 2,
		"minimum": 1}}})
	for _, bag := range []string{"B1", "B2"} {
		to.post("/bags", fields{"code": bag, "station": "N1", "name": "Small bag", "kit_list": "SMALL"})
		c.lots[bag] = c.receive(to, bag, 2)
		to.post("/bags/"+bag+"/restocks", fields{"lines": []fields{{"lot_id": c.lots[bag], "qty": 2}}})
	}
	c.lots["bulk"] = c.receive(to, "bulk", batch)
	c.tell(to)
}

func (c *crash) receive(to *client, lot string, qty int) int64 {
	c.Helper()
	body := fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": lot, "end_printed": "2199-01", "qty": qty}
	return part[struct{ ID int64 }](to.post("/receipts", body)).ID
}

// write starts the clients.
func (c *crash) write() {
	for _, lot := range []string{"R1", "R2"} {
		c.writers.Go(func() {
			c.repeat(lot, func(ref string, _ int) bool {
				return c.send(ref, 1, "/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": lot,
					"end_printed": "2199-01", "qty": 1, "reference": ref})
			})
		})
	}
	for _, bag := range []string{"B1", "B2"} {
		c.writers.Go(func() { c.repeat("check-"+bag, func(ref string, n int) bool { return c.check(bag, ref, n) }) })
	}
	c.writers.Go(func() { c.repeat("batch", c.batch) })
}

// repeat writes one thing after another, each under its own reference, until
// the test is over or something goes wrong.
func (c *crash) repeat(name string, write func(ref string, n int) bool) {
	for n := 0; ; n++ {
		c.mu.Lock()
		over := c.over
		c.mu.Unlock()
		if over || !write(fmt.Sprintf("%s-%d", name, n), n) {
			return
		}
	}
}

// check records a full check that misses one of two gauzes, or finds it again.
func (c *crash) check(bag, ref string, n int) bool {
	sheet, ok := c.ask("GET", "/bags/"+bag, nil)
	if !ok || sheet.status != 200 {
		return false
	}
	counted, reason := 1, "missing"
	if n%2 == 1 {
		counted, reason = 2, "found"
	}
	position := part[struct{ Position int64 }](sheet).Position
	return c.send(ref, 1, "/bags/"+bag+"/checks", fields{"kind": "full", "seen_position": position, "note": ref,
		"lines": []fields{{"lot_id": c.lots[bag], "counted": counted, "reason": reason, "incident": ref}}})
}

// batch moves units one by one from one store to the other, all together.
func (c *crash) batch(ref string, n int) bool {
	from, to := "N1-STORE", "N1-SPARE"
	if n%2 == 1 {
		from, to = to, from
	}
	moves := make([]fields, batch)
	for i := range moves {
		moves[i] = fields{"lot_id": c.lots["bulk"], "qty": 1, "from": from, "to": to, "reason": "transfer", "reference": ref}
	}
	return c.send(ref, batch, "/movements", fields{"movements": moves})
}

// send posts one write until it is acknowledged. Its reference is its key.
func (c *crash) send(ref string, movements int, path string, body any) bool {
	a, ok := c.ask("POST", path, body, "Idempotency-Key", ref)
	if !ok || !assert.Equal(c, 201, a.status, "%s: %s", ref, a.body) {
		return false
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.done[ref] = movements
	if a.header.Get("Idempotent-Replay") != "" {
		c.replayed++
	}
	return true
}

// ask makes one request and makes it again until it is answered.
func (c *crash) ask(method, path string, body any, header ...string) (reply, bool) {
	for deadline := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
		c.mu.Lock()
		to := c.client
		c.mu.Unlock()
		if c.Failed() || !assert.True(c, time.Now().Before(deadline), "%s %s is not answered", method, path) {
			return reply{}, false
		}
		if to == nil {
			continue
		}
		if a, err := to.send(method, "/api/v1"+path, body, header...); err == nil {
			return a, true
		}
		c.mu.Lock()
		c.again++
		c.mu.Unlock()
	}
}

// awaitWrites waits until so many more writes have been acknowledged.
func (c *crash) awaitWrites(n int) {
	c.Helper()
	count := func() int {
		c.mu.Lock()
		defer c.mu.Unlock()
		return len(c.done)
	}
	goal := count() + n
	eventually(c, "clients have written", func() bool { return c.Failed() || count() >= goal })
	require.False(c, c.Failed())
}

// crash kills the server and starts it again. Where it is to be killed inside
// a transaction it looks until there is one.
func (c *crash) crash(inside bool) {
	c.Helper()
	answers := -1
	if inside {
		answers = c.freezeInside()
	}
	c.tell(nil) // what is under way stays so
	c.server.kill()
	to := c.start()
	if inside {
		lasting := c.answers() - answers
		assert.Contains(c, []int{0, 1}, lasting, "requests done, but not seen before the kill")
		c.inside += 1 - lasting
	}
	c.tell(to)
}

// freezeInside stops the server's process at a moment at which a transaction
// that writes is open, and returns how many requests have been done by then.
func (c *crash) freezeInside() (answers int) {
	c.Helper()
	eventually(c, "a transaction is open", func() bool {
		c.server.freeze()
		if c.open() {
			answers = c.answers()
			return true
		}
		c.server.thaw()
		return false
	})
	return answers
}

// finish lets the clients end what they are at.
func (c *crash) finish() {
	c.end()
	c.writers.Wait()
	require.False(c, c.Failed())
}

// look compares what was acknowledged with what is there.
func (c *crash) look() {
	to := newClient(c, c.server, c.token)
	c.lookAtMovements(to)
	c.lookAtChecks(to)
	c.lookAtUnits(to)
	c.server.stop()
	succeed(c, "verify", "--db", c.db)
}

func (c *crash) lookAtMovements(to *client) {
	moved := map[string]int{}
	for _, m := range all[struct{ Reference string }](to, "/movements?station=N1") {
		moved[m.Reference]++
	}
	delete(moved, "") // from before the first kill
	c.same("movements by reference", c.done, moved)
}

func (c *crash) lookAtChecks(to *client) {
	want, noted := map[string]int{}, map[string]int{}
	for ref := range c.done {
		if strings.HasPrefix(ref, "check-") {
			want[ref] = 1
		}
	}
	for _, bag := range []string{"B1", "B2"} {
		for _, x := range all[struct{ Note, Status string }](to, "/bags/"+bag+"/checks?") {
			noted[x.Note]++
			assert.Equal(c, "accepted", x.Status, x.Note)
		}
	}
	c.same("checks by note", want, noted)
}

func (c *crash) lookAtUnits(to *client) {
	want, units := map[string]int{"bulk": batch, "B1": 2, "B2": 2}, map[string]int{}
	for ref := range c.done {
		switch name, n := cutLast(ref); name {
		case "R1", "R2":
			want[name]++
		case "check-B1", "check-B2":
			change := []int{-1, 1} // every other check finds what the one before missed
			want[strings.TrimPrefix(name, "check-")] += change[n%2]
		}
	}
	for _, l := range all[struct {
		BatchNo string `json:"batch_no"`
		Where   []struct{ Qty int }
	}](to, "/lots?station=N1") {
		for _, w := range l.Where {
			units[l.BatchNo] += w.Qty
		}
	}
	assert.Equal(c, want, units, "units by lot")
}

// cutLast splits a reference into its name and its number.
func cutLast(ref string) (name string, n int) {
	i := strings.LastIndexByte(ref, '-')
	_, _ = fmt.Sscan(ref[i+1:], &n)
	return ref[:i], n
}

// same compares two counts and names the first few differences.
func (c *crash) same(what string, want, got map[string]int) {
	c.Helper()
	var wrong []string
	for _, ref := range slices.Sorted(maps.Keys(want)) {
		if got[ref] != want[ref] {
			wrong = append(wrong, fmt.Sprintf("%s: %d instead of %d", ref, got[ref], want[ref]))
		}
	}
	for _, ref := range slices.Sorted(maps.Keys(got)) {
		if _, known := want[ref]; !known {
			wrong = append(wrong, ref+": never acknowledged")
		}
	}
	assert.Empty(c, wrong[:min(len(wrong), 10)], "%s: %d differences", what, len(wrong))
}

// answers counts the requests with a key that have been done, by looking at
// the database from outside.
func (c *crash) answers() int {
	c.Helper()
	driver, source := "sqlite", "file:"+c.db+"?_pragma=busy_timeout(10000)&_pragma=query_only(1)"
	if c.engine == store.Postgres {
		driver, source = "pgx", c.db
	}
	db, err := sql.Open(driver, source)
	require.NoError(c, err)
	defer db.Close()
	var n int
	require.NoError(c, db.QueryRow("SELECT count(*) FROM answer").Scan(&n))
	return n
}
