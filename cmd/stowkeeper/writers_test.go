package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// writers are clients, 17 where no more are asked for, that record receipts, checks, uses, restocks, batches of
// movements, and transfers to another station with a count of what it has by then, one after another, each under
// its own reference. One that gets no answer
// asks again with the same key. look compares what was acknowledged with what is there.
type writers struct {
	testing.TB
	token  string
	lots   map[string]int64
	group  sync.WaitGroup
	pause  time.Duration // after each write
	ofKind int           // that receive, that check, and that use and restock

	mu       sync.Mutex
	client   *client // nil while the server is down
	over     bool
	done     map[string]int    // acknowledged writes by reference: the number of movements that each made
	requests map[string]string // their references by the id of the request
	again    int
	took     []time.Duration // how long each waited for its answer
	replayed int
}

const (
	clientsOfKind = 5 // five receive, five check, five use and restock, one moves batches, one sends
	stocked       = 100_000
)

func newWriters(t testing.TB, token string) *writers {
	w := &writers{TB: t, token: token, ofKind: clientsOfKind, lots: map[string]int64{}, done: map[string]int{},
		requests: map[string]string{}}
	t.Cleanup(func() { w.end(); w.group.Wait() }) // also where the test has failed
	return w
}

// tell tells the clients where the server is; nil for nowhere.
func (w *writers) tell(to *client) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.client = to
}

func (w *writers) end() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.over = true
}

func (w *writers) acknowledged() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.done)
}

// setUp makes a station with a spare store, the bags and the lots that move.
func (w *writers) setUp(to *client) {
	w.Helper()
	to.post("/stations", fields{"code": "N1", "name": "North One", "timezone": "Europe/London"})
	to.post("/places", fields{"code": "N1-SPARE", "station": "N1", "kind": "store", "purpose": "issue",
		"name": "Spare store"})
	to.post("/stations", fields{"code": "S2", "name": "South Two", "timezone": "Europe/London"})
	to.post("/items", fields{"code": "GAUZE", "name": "Gauze", "category": "plain dressing", "unit": "each",
		"tracked_by": "lot", "dated": true})
	to.post("/kit-lists", fields{"code": "SMALL", "name": "Small bag", "lines": []fields{{"item": "GAUZE", "par": 4,
		"minimum": 1}}})
	for lot, qty := range map[string]int{"bulk": batch, "one": stocked, "two": stocked, "sent": stocked} {
		w.lots[lot] = part[struct{ ID int64 }](to.post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE",
			"batch_no": lot, "end_printed": "2199-01", "qty": qty})).ID
	}
	for i := range 2 * w.ofKind {
		bag := fmt.Sprint("B", i)
		to.post("/bags", fields{"code": bag, "station": "N1", "name": "Small bag", "kit_list": "SMALL"})
		to.post("/bags/"+bag+"/restocks", fields{"lines": w.bothLots(2)})
	}
	w.tell(to)
}

func (w *writers) bothLots(qty int) []fields {
	return []fields{{"lot_id": w.lots["one"], "qty": qty}, {"lot_id": w.lots["two"], "qty": qty}}
}

// write starts the clients.
func (w *writers) write() {
	for i := range w.ofKind {
		w.group.Go(func() { w.repeat(fmt.Sprint("R", i), w.receive) })
		checked, used := fmt.Sprint("B", i), fmt.Sprint("B", w.ofKind+i)
		w.group.Go(func() {
			w.repeat("check-"+checked, func(ref string, n int) bool { return w.check(checked, ref, n) })
		})
		w.group.Go(func() {
			w.repeat("use-"+used, func(ref string, n int) bool { return w.useOrRestock(used, ref, n) })
		})
	}
	w.group.Go(func() { w.repeat("batch", w.batch) })
	w.group.Go(func() { w.repeat("transfer", w.transfer) })
}

// repeat writes one thing after another until the test is over or something goes wrong.
func (w *writers) repeat(name string, write func(ref string, n int) bool) {
	for n := 0; ; n++ {
		w.mu.Lock()
		over := w.over
		w.mu.Unlock()
		if over || !write(fmt.Sprintf("%s-%d", name, n), n) {
			return
		}
		time.Sleep(w.pause)
	}
}

func (w *writers) receive(ref string, _ int) bool {
	lot, _ := cutLast(ref)
	return w.send(ref, 1, "/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": lot,
		"end_printed": "2199-01", "qty": 1, "reference": ref})
}

// check records a full check that misses one of each lot, or finds it again.
func (w *writers) check(bag, ref string, n int) bool {
	position, ok := w.position(bag)
	counted, reason := 1, "missing"
	if n%2 == 1 {
		counted, reason = 2, "found"
	}
	var lines []fields
	for _, lot := range []string{"one", "two"} {
		lines = append(lines, fields{"lot_id": w.lots[lot], "counted": counted, "reason": reason, "incident": ref})
	}
	return ok && w.send(ref, 2, "/bags/"+bag+"/checks", fields{"kind": "full", "seen_position": position, "note": ref,
		"lines": lines})
}

// useOrRestock takes one of each lot, or puts it back, with a new seal. A restock's movements have no reference.
func (w *writers) useOrRestock(bag, ref string, n int) bool {
	position, ok := w.position(bag)
	if n%2 == 1 {
		return ok && w.send(ref, 0, "/bags/"+bag+"/restocks", fields{"lines": w.bothLots(1), "seal_set": ref, "note": ref})
	}
	return ok && w.send(ref, 2, "/bags/"+bag+"/uses", fields{"incident": ref, "seen_position": position,
		"lines": w.bothLots(1)})
}

func (w *writers) position(bag string) (int64, bool) {
	sheet, ok := w.ask("GET", "/bags/"+bag, nil)
	if !ok || !assert.Equal(w, 200, sheet.status, "%s", sheet.body) {
		return 0, false
	}
	return part[struct{ Position int64 }](sheet).Position, true
}

// batch moves units one by one from one store to the other, all together.
func (w *writers) batch(ref string, n int) bool {
	from, to := "N1-STORE", "N1-SPARE"
	if n%2 == 1 {
		from, to = to, from
	}
	moves := make([]fields, batch)
	for i := range moves {
		moves[i] = fields{"lot_id": w.lots["bulk"], "qty": 1, "from": from, "to": to, "reason": "transfer", "reference": ref}
	}
	return w.send(ref, batch, "/movements", fields{"movements": moves})
}

// transfer sends a unit to the other station, which receives it, and counts there: as many have come as were sent.
func (w *writers) transfer(ref string, n int) bool {
	unit := []fields{{"lot_id": w.lots["sent"], "qty": 1}}
	id, ok := w.begin(ref+"-asked", "/transfers", fields{"from": "N1-STORE", "to": "S2-STORE",
		"lines": []fields{{"item": "GAUZE", "qty": 1}}})
	ok = ok && w.send(fmt.Sprint("transfer ", id), 2, fmt.Sprintf("/transfers/%d/send", id), fields{"lines": unit}) &&
		w.send(ref+"-received", 0, fmt.Sprintf("/transfers/%d/receive", id), fields{"lines": unit})
	if !ok {
		return false
	}
	id, ok = w.begin(ref+"-begun", "/counts", fields{"place": "S2-STORE"})
	return ok && w.send(ref+"-counted", 0, fmt.Sprintf("/counts/%d/lines", id),
		fields{"lines": []fields{{"lot_id": w.lots["sent"], "counted": n + 1}}}) &&
		w.send(ref, 0, fmt.Sprintf("/counts/%d/post", id), fields{})
}

// begin makes a paper, and returns its number.
func (w *writers) begin(ref, path string, body any) (id int64, ok bool) {
	a, ok := w.ask("POST", path, body, "Idempotency-Key", ref)
	if !ok || !assert.Equal(w, 201, a.status, "%s: %s", ref, a.body) {
		return 0, false
	}
	return part[struct{ ID int64 }](a).ID, true
}

// send posts one write until it is acknowledged. Its reference is its key, without blanks.
func (w *writers) send(ref string, movements int, path string, body any) bool {
	began := time.Now()
	a, ok := w.ask("POST", path, body, "Idempotency-Key", strings.ReplaceAll(ref, " ", "-"))
	took := time.Since(began)
	if !ok || !assert.Contains(w, []int{200, 201}, a.status, "%s: %s", ref, a.body) {
		return false
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.done[ref] = movements
	w.took = append(w.took, took)
	w.requests[a.header.Get("X-Request-Id")] = ref
	if a.header.Get("Idempotent-Replay") != "" {
		w.replayed++
	}
	return true
}

// ask makes one request and makes it again until it is answered.
func (w *writers) ask(method, path string, body any, header ...string) (reply, bool) {
	for deadline := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
		w.mu.Lock()
		to := w.client
		w.mu.Unlock()
		if w.Failed() || !assert.True(w, time.Now().Before(deadline), "%s %s is not answered", method, path) {
			return reply{}, false
		}
		if to == nil {
			continue
		}
		if a, err := to.send(method, "/api/v1"+path, body, header...); err == nil {
			return a, true
		}
		w.mu.Lock()
		w.again++
		w.mu.Unlock()
	}
}

// awaitWrites waits until so many more writes have been acknowledged.
func (w *writers) awaitWrites(n int) {
	w.Helper()
	goal := w.acknowledged() + n
	eventually(w, "clients have written", func() bool { return w.Failed() || w.acknowledged() >= goal })
	require.False(w, w.Failed())
}

// finish lets the clients end what they are at.
func (w *writers) finish() {
	w.end()
	w.group.Wait()
	require.False(w, w.Failed())
}

// look compares what was acknowledged with what is there: nothing is lost, doubled or half there.
func (w *writers) look(to *client) {
	w.Helper()
	referred, stowed, units := map[string]int{}, map[string]int{}, map[string]int{}
	checks, uses, restocks := map[string]int{}, map[string]int{}, map[string]int{}
	wantStowed := map[string]int{}
	wantUnits := map[string]int{"bulk": batch, "one": stocked, "two": stocked, "sent": stocked}
	for ref, movements := range w.done {
		if movements == 0 && strings.HasPrefix(ref, "transfer") { // no movement bears it
			continue
		} else if strings.HasPrefix(ref, "transfer ") {
			referred[ref] = movements
			wantUnits["sent"]--
			continue
		}
		name, n := cutLast(ref)
		kind, bag, _ := strings.Cut(name, "-")
		switch change := 1 - 2*((n+1)%2); { // what the even ones take, the odd ones bring
		case strings.HasPrefix(kind, "R"):
			wantUnits[name]++
		case kind == "check":
			checks[ref]++
			wantUnits["one"] += change
			wantUnits["two"] += change
		case kind == "use" && n%2 == 1:
			restocks[ref]++
			wantStowed[bag] += 2
			continue
		case kind == "use":
			uses[ref]++
			wantUnits["one"]--
			wantUnits["two"]--
		}
		referred[ref] = movements
	}
	moved := map[string]int{}
	for _, m := range all[struct{ Reference, Reason, To string }](to, "/movements?station=N1") {
		if m.Reference != "" {
			moved[m.Reference]++
		} else if strings.HasPrefix(m.To, "B") {
			stowed[m.To]++
		}
	}
	w.same("movements by reference", referred, moved)
	for i := range 2 * w.ofKind {
		wantStowed[fmt.Sprint("B", i)] += 2 // as it was set up
	}
	w.same("units stowed, by bag", wantStowed, stowed)
	w.same("checks by note", checks, w.noted(to, "checks", "note"))
	w.same("uses by incident", uses, w.noted(to, "uses", "incident"))
	w.same("restocks by note", restocks, w.noted(to, "restocks", "note"))
	w.same("seals by number, as set", restocks, w.noted(to, "seals", "number"))
	for _, l := range all[struct {
		BatchNo string `json:"batch_no"`
		Where   []struct{ Qty int }
	}](to, "/lots?station=N1") {
		for _, at := range l.Where {
			units[l.BatchNo] += at.Qty
		}
	}
	w.same("units by lot", wantUnits, units)
}

// noted counts a kind of record of all bags by one of its fields; what has none was there before.
func (w *writers) noted(to *client, records, by string) map[string]int {
	w.Helper()
	noted := map[string]int{}
	for i := range 2 * w.ofKind {
		for _, x := range all[map[string]any](to, fmt.Sprintf("/bags/B%d/%s?", i, records)) {
			if ref, ok := x[by].(string); ok && ref != "" && x["event"] != "opened" {
				noted[ref]++
			}
			if status := x["status"]; status != nil {
				assert.Equal(w, "accepted", status, x[by])
			}
		}
	}
	return noted
}

// cutLast splits a reference into its name and its number.
func cutLast(ref string) (name string, n int) {
	i := strings.LastIndexByte(ref, '-')
	_, _ = fmt.Sscan(ref[i+1:], &n)
	return ref[:i], n
}

// same compares two counts and names the first few differences.
func (w *writers) same(what string, want, got map[string]int) {
	w.Helper()
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
	assert.Empty(w, wrong[:min(len(wrong), 10)], "%s: %d differences", what, len(wrong))
}
