package report_test

import (
	"context"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/store/storetest"
)

// watched is a store that counts how often somebody reads what stations used, and says when a read is over.
type watched struct {
	inventory.Store
	histories int
	over      func()
}

type watchedReader struct {
	inventory.Reader
	of *watched
}

func (w *watched) Read(ctx context.Context, fn func(context.Context, inventory.Reader) error) error {
	defer w.over()
	return w.Store.Read(ctx, func(ctx context.Context, r inventory.Reader) error {
		return fn(ctx, watchedReader{r, w})
	})
}

func (r watchedReader) PastUsage(f inventory.UsageFilter) ([]inventory.PastUsage, error) {
	r.of.histories++
	return r.Reader.PastUsage(f)
}

// TestYearIsKept: the year is computed once an hour, and only then is the history of use read.
func TestYearIsKept(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	w := &watched{Store: h.S.Store, over: func() {}}
	s := report.New(w, func() inventory.Instant { return h.Now })
	for i, histories := range []int{1, 1, 2} {
		if i == 2 {
			h.Pass(2 * report.Fresh)
		}
		year, err := s.YearAhead(h.Ctx, fixture.Admin, report.YearAsk{Weeks: true})
		require.NoError(t, err)
		assert.Len(t, year.Weeks, report.Weeks+1)
		assert.Equal(t, histories, w.histories)
	}
}

// TestNobodyReadsWhileTheYearIsComputed: who waits for a year has finished reading, and has given back what the page
// looked at.
func TestNobodyReadsWhileTheYearIsComputed(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	w := &watched{Store: h.S.Store}
	s := report.New(w, func() inventory.Instant { return h.Now })
	today := inventory.Station{Timezone: "Pacific/Auckland"}.Today(h.Now)
	request, cancel := context.WithCancel(h.Ctx)
	ctx, done := inventory.Look(request)
	defer done()
	end := s.BeginYear(today)
	w.over = cancel
	year, err := s.YearAhead(ctx, fixture.Admin, report.YearAsk{Weeks: true})
	require.NoError(t, err)
	assert.Empty(t, year.Weeks)
	look, _ := inventory.OnlyLooks(ctx)
	assert.True(t, look.Of == nil)
	w.over = func() { end(report.Outlook{At: h.Now}) }
	year, err = s.YearAhead(h.Ctx, fixture.Admin, report.YearAsk{Weeks: true})
	require.NoError(t, err)
	assert.Equal(t, h.Now, year.At, "it was there once the reading was over")
}

// TestWaitingForTheYearEnds: with the request, or after a moment.
func TestWaitingForTheYearEnds(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		s := report.New(nil, nil)
		end := s.BeginYear(1)
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		assert.Zero(t, s.WaitForYear(gone, 1))
		assert.Equal(t, report.Patience, s.WaitForYear(t.Context(), 1))
		end(report.Outlook{})
		assert.Zero(t, s.WaitForYear(t.Context(), 1), "it is there")
	})
}
