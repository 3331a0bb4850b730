package main

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// probing is a store whose probe says what it is told to.
type probing struct {
	inventory.Store
	err error
}

func (s *probing) Probe(context.Context) error { return s.err }

// TestReady: what a balancer asks is answered by what became of the last write, and by nothing older than half a
// minute.
func TestReady(t *testing.T) {
	s := &probing{Store: storetest.Open(t, storetest.Empty(t, store.SQLite))}
	p := &program{svc: services.New(s, clock, services.Options{}), baseURL: "https://kit.example.org",
		log: slog.New(slog.DiscardHandler)}
	h, err := p.handler()
	require.NoError(t, err)
	ask := func() *httptest.ResponseRecorder {
		rec := httptest.NewRecorder()
		h.ServeHTTP(rec, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/readyz", http.NoBody))
		return rec
	}
	for _, c := range []struct {
		err   error
		want  int
		again string
	}{
		{nil, http.StatusOK, ""},
		{inventory.Refuse(inventory.Unavailable, "locked"), http.StatusServiceUnavailable, "10"},
		{inventory.Refuse(inventory.StorageFull, "full"), http.StatusInsufficientStorage, ""},
		{context.DeadlineExceeded, http.StatusServiceUnavailable, "10"},
	} {
		s.err = c.err
		p.probe(t.Context())
		rec := ask()
		assert.Equal(t, c.want, rec.Code, "%v", c.err)
		assert.Equal(t, c.again, rec.Header().Get("Retry-After"), "%v", c.err)
	}
	p.probed.Store(&probe{began: time.Now().Add(-4 * probeEvery)})
	assert.Equal(t, http.StatusServiceUnavailable, ask().Code, "a probe that hangs")
	s.err = nil
	p.probed.Store(nil)
	assert.Equal(t, http.StatusOK, ask().Code, "asked before the first one")
}
