//go:build unix

package main

import (
	"context"
	"database/sql"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestCrash has 17 clients write (see writers) while the server is killed with SIGKILL again and again and
// started anew. After each kill all records verify; afterwards every write that was acknowledged is there once, whole.
//
// In every second round the server is killed inside a transaction, and the test
// knows that it was: it first freezes the process with SIGSTOP, looks from
// outside whether a transaction that writes is open (see crash.open), thaws it
// and tries again where none is, and then kills what stands still. Where the
// database holds as many answered requests after the restart as it did before
// the kill, the transaction that was open has left nothing. It may hold one
// more: then the transaction was at the end of its commit. In every seventh the
// next one is killed as well, while it starts.
func TestCrash(t *testing.T) {
	kills := 8
	switch n, err := strconv.Atoi(os.Getenv("STOWKEEPER_TEST_KILLS")); {
	case err == nil:
		kills = n
	case inventorytest.Long:
		kills = 2000
	}
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			sum, began := &crash{writers: &writers{}}, time.Now()
			for left := kills; left > 0; left -= killsOfOne {
				c := newCrash(t, storetest.Database(t, engine), engine, uint64(left))
				c.start()
				for round := range min(left, killsOfOne) {
					c.awaitWrites(1 + c.dice.IntN(writesARound))
					c.crash(round)
				}
				c.finish()
				c.look(newClient(c, c.server, c.token))
				c.server.stop()
				succeed(c, "verify", "--db", c.db)
				sum.inside, sum.starting, sum.written = sum.inside+c.inside, sum.starting+c.starting, sum.written+len(c.done)
				sum.again, sum.replayed = sum.again+c.again, sum.replayed+c.replayed
				t.Logf("%d kills, %d of them surely inside a transaction, and %d while it started, in %s; %d writes acknowledged, "+
					"%d requests sent again for want of an answer, %d of those had been done", kills-max(left-killsOfOne, 0),
					sum.inside, sum.starting, time.Since(began).Round(time.Second), sum.written, sum.again, sum.replayed)
			}
			assert.Positive(t, sum.inside, "kills inside a transaction")
		})
	}
}

var (
	batch        = 50 // movements posted together: enough to be half there
	writesARound = 20 // most writes that are awaited between two kills
)

// killsOfOne is after how many kills of one database it starts again with an empty one, so that all that was recorded
// can be looked at after each.
const killsOfOne = 25

// crash is a server that dies often, and its clients.
type crash struct {
	*writers
	db, engine string
	server     *process
	dice       *rand.Rand
	inside     int // kills that were inside a transaction
	starting   int // kills while it started
	written    int
}

func newCrash(t *testing.T, db, engine string, seed uint64) *crash {
	c := &crash{db: db, engine: engine, dice: rand.New(rand.NewPCG(7, seed))}
	serve(t, db).stop() // makes the database
	c.writers = newWriters(t, newToken(t, db, "administrator", "crash"))
	return c
}

func (c *crash) start() {
	c.Helper()
	c.server = serve(c, c.db)
	c.setUp(newClient(c, c.server, c.token))
	c.write()
}

// crash kills the server and starts it again, in even rounds inside a transaction.
func (c *crash) crash(round int) {
	c.Helper()
	answers := -1
	if round%2 == 0 {
		answers = c.freezeInside()
	}
	c.tell(nil) // what is under way stays so
	c.server.kill()
	if round%7 == 6 {
		c.killStarting()
	}
	c.server = serve(c, c.db)
	to := newClient(c, c.server, c.token)
	if answers >= 0 {
		lasting := c.answers() - answers
		assert.Contains(c, []int{0, 1}, lasting, "requests done, but not seen before the kill")
		c.inside += 1 - lasting
	}
	c.verify()
	c.tell(to)
}

// killStarting starts the server and kills it a moment later, while it puts right what the kill before has left.
func (c *crash) killStarting() {
	c.Helper()
	cmd := command(context.Background(), "1", "serve", "--db", c.db, "--listen", "127.0.0.1:0")
	require.NoError(c, cmd.Start())
	time.Sleep(time.Duration(c.dice.IntN(200)) * time.Millisecond)
	require.NoError(c, cmd.Process.Kill())
	_ = cmd.Wait() // it was killed
	c.starting++
}

// verify compares all rows with the chains.
func (c *crash) verify() {
	c.Helper()
	s, err := store.Open(c.Context(), c.db, store.Options{Logger: quiet(streams{err: os.Stderr})})
	require.NoError(c, err)
	defer s.Close()
	svc, err := newServices(s, services.Options{})
	require.NoError(c, err)
	r, err := svc.Verify.Verify(c.Context())
	require.NoError(c, err)
	require.Empty(c, r.Faults)
	require.Positive(c, r.Entries)
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
