package store_test

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/url"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// wire is a connection to PostgreSQL that goes when it is told to commit: before the server hears of it, or after.
type wire struct {
	*testing.T
	server, address string
	before, after   atomic.Int32 // how many more times
}

func newWire(t *testing.T) *wire {
	u, err := url.Parse(storetest.Database(t, store.Postgres))
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, l.Close()) })
	w := &wire{T: t, server: u.Host}
	// the other address is nobody's: it is not the first that must be there
	u.Host = "127.0.0.1:1," + l.Addr().String()
	w.address = u.String()
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go w.carry(c)
		}
	}()
	return w
}

func (w *wire) carry(c net.Conn) {
	defer c.Close()
	s, err := net.Dial("tcp", w.server)
	if err != nil {
		return
	}
	defer s.Close()
	var cut atomic.Bool
	go func() {
		defer c.Close()
		for b := make([]byte, 64<<10); ; {
			n, err := s.Read(b)
			if err != nil || cut.Load() { // it has answered, which nobody hears
				return
			}
			if _, err := c.Write(b[:n]); err != nil {
				return
			}
		}
	}()
	for b := make([]byte, 64<<10); ; {
		n, err := c.Read(b)
		if err != nil {
			return
		}
		if bytes.Contains(b[:n], []byte("commit")) {
			if w.before.Add(-1) >= 0 {
				return
			}
			if w.after.Add(-1) >= 0 {
				cut.Store(true)
				_, _ = s.Write(b[:n])
				_, _ = io.Copy(io.Discard, c) // until the other side is closed
				return
			}
		}
		if _, err := s.Write(b[:n]); err != nil {
			return
		}
	}
}

// TestCommitInDoubt: where the server goes away as a unit of work ends, nobody can know whether it was done, and so it
// is said. With a key it is found out by doing it again, which counts once.
func TestCommitInDoubt(t *testing.T) {
	for name, cut := range map[string]func(w *wire, times int32){
		"not done": func(w *wire, times int32) { w.before.Store(times) },
		"done":     func(w *wire, times int32) { w.after.Store(times) },
	} {
		t.Run(name, func(t *testing.T) {
			w := newWire(t)
			s := storetest.Open(t, w.address)
			h := fixture.New(t, s)
			cut(w, 1)
			err := s.Write(t.Context(), func(_ context.Context, w inventory.Writer) error {
				return w.AddCategory("animal")
			})
			require.Equal(t, inventory.InDoubt, inventory.KindOf(err), "%v", err)
			assert.ErrorContains(t, err, "not known yet")

			receive := func(key string) (inventory.Answer, bool, error) {
				return h.S.Ledger.Once(h.Ctx, inventory.RequestKey{Key: key, Principal: "Cleo", Method: "POST"}, "body",
					func(ctx context.Context) (inventory.Answer, error) {
						_, err := h.S.Ledger.Receive(ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN",
							BatchNo: "P", Qty: 1})
						return inventory.Answer{Status: 201, Body: []byte("done")}, err
					})
			}
			cut(w, 1)
			_, replayed, err := receive("one")
			require.NoError(t, err)
			assert.Equal(t, name == "done", replayed)
			cut(w, 2)
			_, _, err = receive("two")
			if name == "done" { // the first answer is found, and only that is told twice
				assert.Equal(t, inventory.InDoubt, inventory.KindOf(err), "%v", err)
			}
			cut(w, 0)
			_, _, err = receive("two")
			require.NoError(t, err)
			units := 0
			for _, n := range h.Holds("NORTH-STORE") {
				units += n
			}
			assert.Equal(t, 2, units)
		})
	}
}

// TestLostBeforeItsCommit: a unit of work whose connection goes before its end has done nothing, and is done again.
func TestLostBeforeItsCommit(t *testing.T) {
	s := storetest.OpenEmpty(t, store.Postgres)
	tries := 0
	err := s.Write(t.Context(), func(_ context.Context, w inventory.Writer) error {
		if tries++; tries == 1 {
			writes, _ := store.Pools(s)
			_, err := writes.ExecContext(t.Context(), "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "+
				"WHERE datname = current_database() AND pid <> pg_backend_pid()")
			require.NoError(t, err)
		}
		return w.AddStation(inventory.Station{Code: "S1", Name: "One", Timezone: "UTC"})
	})
	require.NoError(t, err)
	assert.Equal(t, 2, tries)
	assert.NoError(t, s.Probe(t.Context()))
}
