package main

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestSoak has 17 clients write and others read pages, lists and exports for half an hour where it is long. Memory,
// goroutines and file descriptors of the last third are those of the one before.
func TestSoak(t *testing.T) {
	lasts := 12 * time.Second
	if inventorytest.Long {
		lasts = 30 * time.Minute
	}
	if d, err := time.ParseDuration(os.Getenv("STOWKEEPER_TEST_SOAK")); err == nil {
		lasts = d
	}
	db := storetest.Database(t, store.SQLite)
	serve(t, db).stop() // makes it
	require.Zero(t, stowkeeperWith(t, "seven lamps at dusk\n", nil, "person", "add", "--db", db, "--role",
		"administrator", "Ann").code)
	w := newWriters(t, newToken(t, db, "administrator", "soak"))
	w.pause = time.Second
	p := beginAs(t, demoBinary(t), servesLine, "serve", "--db", db, "--listen", "127.0.0.1:0", "--metrics", "127.0.0.1:0",
		"--backup-folder", t.TempDir())
	w.setUp(newClient(t, p, w.token))
	w.write()
	over, read := make(chan struct{}), w.reads(p, signIn(t, p, "Ann", "seven lamps at dusk"))
	var readers sync.WaitGroup
	for i := range 4 {
		readers.Go(func() {
			for n := i; ; n++ {
				select {
				case <-over:
					return
				case <-time.After(w.pause / 4):
					read(n)
				}
			}
		})
	}
	seen := map[string][]int{}
	for range 90 {
		time.Sleep(lasts / 90)
		seen["memory in KiB"] = append(seen["memory in KiB"], residentOf(p.cmd.Process.Pid))
		open, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", p.cmd.Process.Pid))
		require.NoError(t, err)
		seen["file descriptors"] = append(seen["file descriptors"], len(open))
		seen["goroutines"] = append(seen["goroutines"], int(metricOf(t, p, "go_goroutines")))
		if len(seen["goroutines"])%10 == 0 {
			t.Log(w.acknowledged(), "writes,", seen["memory in KiB"][len(seen["goroutines"])-10:])
		}
	}
	close(over)
	readers.Wait()
	w.finish()
	for what, all := range seen {
		middle, last := slices.Sorted(slices.Values(all[30:60])), slices.Sorted(slices.Values(all[60:]))
		t.Logf("%s: median %d, at most %d, in the second third; %d and %d in the last", what, middle[15], middle[29],
			last[15], last[29])
		assert.LessOrEqual(t, last[15], middle[15]+middle[15]/5+5, what)
		if lasts >= time.Minute { // one request at one moment is the most of some seconds
			assert.LessOrEqual(t, last[29], middle[29]+middle[29]/4+20, what)
		}
	}
	t.Logf("%d writes in %s; %d KiB at its highest", w.acknowledged(), lasts, peakOf(p.cmd.Process.Pid))
	w.look(newClient(t, p, w.token))
	p.stop()
	succeed(t, "verify", "--db", db)
}

// reads returns what reads one of many things, by number.
func (w *writers) reads(p *process, session string) func(n int) {
	paths := []string{"/", "/board", "/b/B1", "/b/B6/log", "/store", "/review", "/stock/N1-STORE", "/search?q=gauze",
		"/bags/B7/history", "/labels", "/sign-in", "/readyz", "/api/v1/bags?limit=100", "/api/v1/movements?limit=100",
		"/api/v1/reports/shortages", "/api/v1/lots?limit=100", "/bags/B6/restock", "/b/B2/full-check",
		"/labels/sheet.pdf?bag=B1"}
	return func(n int) {
		path := paths[n%len(paths)]
		r, err := http.NewRequestWithContext(w.Context(), http.MethodGet, "http://"+p.address+path, http.NoBody)
		if !assert.NoError(w, err) {
			return
		}
		r.AddCookie(&http.Cookie{Name: "stowkeeper_session", Value: session})
		res, err := http.DefaultClient.Do(r)
		if !assert.NoError(w, err) {
			return
		}
		defer res.Body.Close()
		_, err = io.Copy(io.Discard, res.Body)
		assert.NoError(w, err)
		assert.Equal(w, http.StatusOK, res.StatusCode, path)
	}
}

var resident = regexp.MustCompile(`VmRSS:\s+(\d+) kB`)

// residentOf is how many KiB of memory a process holds.
func residentOf(pid int) int {
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	m := resident.FindSubmatch(status)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(string(m[1])) // digits
	return n
}
