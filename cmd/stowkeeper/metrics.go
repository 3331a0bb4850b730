package main

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
)

// metrics counts what the program does, for Prometheus. It stands before the store, where units of work wait.
type metrics struct {
	inventory.Store

	mu        sync.Mutex
	requests  map[string]*tally // by labels
	took      tally
	queued    int
	waited    tally // from when a unit of work was asked for to when it began
	committed tally // from its last step to when it is on disk

	reading sync.Mutex // of the database
	read    time.Time
	stored  string // what was read of it then
}

// readEvery is how long what was read of the database is told again.
const readEvery = 10 * time.Second

// bounds are the upper ends of a histogram's buckets in seconds.
var bounds = [...]float64{.005, .025, .1, .25, .5, 1, 2.5, 10}

// tally counts how long something took, in seconds.
type tally struct {
	count, sum float64
	within     [len(bounds)]int
}

func (t *tally) add(took time.Duration) {
	t.count++
	t.sum += took.Seconds()
	for i, b := range bounds {
		if took.Seconds() <= b {
			t.within[i]++
		}
	}
}

// lines writes it, and all buckets where labels leave room for them.
func (t *tally) lines(out *strings.Builder, name, labels string) {
	if labels == "" {
		fmt.Fprintf(out, "# TYPE %s histogram\n", name)
		for i, b := range bounds {
			fmt.Fprintf(out, "%s_bucket{le=\"%g\"} %d\n", name, b, t.within[i])
		}
		fmt.Fprintf(out, "%s_bucket{le=\"+Inf\"} %g\n", name, t.count)
	}
	fmt.Fprintf(out, "%s_count%s %g\n%s_sum%s %g\n", name, labels, t.count, name, labels, t.sum)
}

// writing marks the context of a unit of work.
type writing struct{}

// Write counts the units of work that wait, and how long. Refuses: what the store refuses.
func (m *metrics) Write(ctx context.Context, fn func(context.Context, inventory.Writer) error) error {
	if ctx.Value(writing{}) != nil {
		return m.Store.Write(ctx, fn)
	}
	asked, began, worked := time.Now(), time.Time{}, time.Time{}
	begin := func() {
		began = time.Now()
		m.count(func() { m.queued--; m.waited.add(began.Sub(asked)) })
	}
	m.count(func() { m.queued++ })
	err := m.Store.Write(context.WithValue(ctx, writing{}, true), func(ctx context.Context, w inventory.Writer) error {
		if began.IsZero() { // it may be run again
			begin()
		}
		defer func() { worked = time.Now() }()
		return fn(ctx, w)
	})
	if began.IsZero() {
		begin()
	} else if err == nil {
		m.count(func() { m.committed.add(time.Since(worked)) })
	}
	return err
}

func (m *metrics) count(what func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	what()
}

// answered counts a request, by its route as it was declared: what strangers ask for is one route.
func (m *metrics) answered(c *gin.Context, took time.Duration) {
	method, route := c.Request.Method, c.FullPath()
	if route == "" {
		method, route = "", "unknown"
	}
	labels := labelled("method", method, "route", route, "status", fmt.Sprint(c.Writer.Status()))
	m.count(func() {
		if m.requests == nil {
			m.requests = map[string]*tally{}
		}
		if m.requests[labels] == nil {
			m.requests[labels] = &tally{}
		}
		m.requests[labels].add(took)
		m.took.add(took)
	})
}

// labelled writes names and values in turn as Prometheus reads them.
func labelled(pairs ...string) string {
	var all []string
	for i := 1; i < len(pairs); i += 2 {
		value := strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(pairs[i])
		all = append(all, pairs[i-1]+`="`+value+`"`)
	}
	return "{" + strings.Join(all, ",") + "}"
}

//go:embed alerts.yml
var alerts []byte

// serveMetrics tells them on an address of their own, to whoever can reach it, until ctx ends.
func (p *program) serveMetrics(ctx context.Context, address string) error {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return inventory.AsField(cannotListen(err), "metrics", "enter a free address of this machine, like 127.0.0.1:9180")
	}
	if host, _, err := net.SplitHostPort(l.Addr().String()); err != nil || !loopback(host) {
		p.log.Warn("metrics can be read from other machines: let only Prometheus through", "address", l.Addr())
	}
	routes := http.NewServeMux()
	routes.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/plain; version=0.0.4")
		fmt.Fprint(w, p.gathered(r.Context()))
	})
	routes.HandleFunc("GET /alerts.yml", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(alerts) })
	s := &http.Server{Handler: routes, ReadTimeout: headerTimeout, WriteTimeout: bodyTimeout}
	context.AfterFunc(ctx, func() { _ = s.Close() })
	go func() {
		if err := s.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			p.log.Error("metrics are not served any more", "error", err)
		}
	}()
	p.log.Info("metrics", "address", "http://"+l.Addr().String()+"/metrics")
	return nil
}

// gathered is all metrics as text.
func (p *program) gathered(ctx context.Context) string {
	m, out := p.metrics, &strings.Builder{}
	one := func(name, kind string, value float64) {
		fmt.Fprintf(out, "# TYPE %s %s\n%[1]s %[3]g\n", name, kind, value)
	}
	stored := p.storedMetrics(ctx)
	m.mu.Lock()
	defer m.mu.Unlock()
	fmt.Fprintln(out, "# TYPE stowkeeper_request_seconds summary")
	for _, labels := range slices.Sorted(maps.Keys(m.requests)) {
		m.requests[labels].lines(out, "stowkeeper_request_seconds", labels)
	}
	m.took.lines(out, "stowkeeper_response_seconds", "")
	m.waited.lines(out, "stowkeeper_write_wait_seconds", "")
	m.committed.lines(out, "stowkeeper_write_commit_seconds", "")
	one("stowkeeper_writes_waiting", "gauge", float64(m.queued))
	one("stowkeeper_requests_in_progress", "gauge", float64(p.answers.Load()))
	one("go_goroutines", "gauge", float64(runtime.NumGoroutine()))
	if last := p.backedUp.Load(); last != nil && !last.IsZero() {
		one("stowkeeper_backup_timestamp_seconds", "gauge", float64(last.Unix()))
	} else if p.backups {
		one("stowkeeper_backup_timestamp_seconds", "gauge", 0)
	}
	ready := 0.0
	if last := p.probed.Load(); last != nil && last.err == nil && time.Since(last.began) < 3*probeEvery {
		ready = 1
	}
	one("stowkeeper_ready", "gauge", ready)
	if !store.IsPostgres(p.db) {
		size, free := room(p.db)
		one("stowkeeper_database_bytes", "gauge", float64(size))
		one("stowkeeper_free_bytes", "gauge", float64(free))
	}
	return out.String() + stored
}

// storedMetrics are those that three statements tell; none where the database does not answer.
func (p *program) storedMetrics(ctx context.Context) string {
	m, out := p.metrics, &strings.Builder{}
	m.reading.Lock()
	defer m.reading.Unlock()
	if time.Since(m.read) < readEvery {
		return m.stored
	}
	line := func(name, labels string, value int64) { fmt.Fprintf(out, "stowkeeper_%s%s %d\n", name, labels, value) }
	err := p.svc.Store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		heads, err1 := r.Heads()
		for _, h := range heads {
			line("chain_entries", labelled("chain", h.ChainName()), h.Seq)
		}
		open, err2 := r.UnderReview(inventory.UnderReviewFilter{})
		line("reports_under_review", "", int64(len(open)))
		if len(open) > 0 {
			line("oldest_under_review_timestamp_seconds", "", open[0].RecordedAt.Time().Unix())
		}
		terminals, err3 := r.Terminals()
		for _, t := range terminals {
			if last := max(t.LastUsed, t.EnrolledAt.InUTC()); t.Live() {
				line("terminal_last_sign_in_timestamp_seconds", labelled("terminal", t.Name, "station", t.Station),
					last.Start(time.UTC).Time().Unix())
			}
		}
		return errors.Join(err1, err2, err3)
	})
	m.read, m.stored = time.Now(), out.String()
	if err != nil {
		p.log.Warn("no metrics of the database", "error", err)
		m.stored = ""
	}
	return m.stored
}
