package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/gin-gonic/gin"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/upload"
	"stowkeeper/web"
)

// program is the running service: use cases with their two faces.
type program struct {
	svc      *services.All
	db       string // the database's file or address; empty where no heads are kept
	listen   string // host:port; port 0 takes a free one
	baseURL  string // how people reach it; http://ADDRESS for none
	language string // of the pages; English for none
	demo     []web.DemoSignIn
	log      *slog.Logger

	terminal string   // secret of the terminal that every browser on this machine is taken for; demo only
	tls      keyPair  // certificate and key in files; none serves plain HTTP
	proxies  []string // addresses whose word for where a request came from is taken
	hosts    []string // further hosts that requests may name

	server   *http.Server
	listener net.Listener
	probed   atomic.Pointer[probe]     // the last one
	backups  bool                      // are taken by the hour
	backedUp atomic.Pointer[time.Time] // the newest
	heads    []inventory.Head          // as they are kept beside the database
	answers  atomic.Int64              // requests that are being answered
	metrics  *metrics
}

// probe is what became of a write that changes nothing.
type probe struct {
	began time.Time
	err   error
}

// Limits of one request and connection.
const (
	headerTimeout = 10 * time.Second
	bodyTimeout   = 60 * time.Second
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 5 * time.Second
	maxHeader     = 64 << 10
	probeEvery    = 10 * time.Second
)

// start begins to listen and serve and returns the base URL. It comes back at once; wait says how it ended.
func (p *program) start() (string, error) {
	l, err := net.Listen("tcp", p.listen)
	if err != nil {
		return "", cannotListen(err)
	}
	p.listener = l
	if p.baseURL == "" {
		p.baseURL = p.tls.scheme() + "://" + reachable(l.Addr())
	}
	handler, err := p.handler()
	if err != nil {
		return "", errors.Join(err, l.Close())
	}
	p.server = &http.Server{
		Handler: p.counted(p.ownHost(headAsGet(handler))), ReadHeaderTimeout: headerTimeout, ReadTimeout: bodyTimeout,
		WriteTimeout: bodyTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeader,
		ErrorLog: slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
	}
	return p.baseURL, nil
}

// cannotListen says what to do about an address.
func cannotListen(err error) error {
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return inventory.InvalidField("listen", "another program has that port: stop it, or choose another one")
	case errors.Is(err, fs.ErrPermission):
		return inventory.InvalidField("listen", "this user may not take that port: choose one from 1024 on")
	}
	return errors.Join(inventory.InvalidField("listen", "enter an address of this machine, like 127.0.0.1:8080"), err)
}

// reachable writes an address that listens everywhere as localhost.
func reachable(a net.Addr) string {
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return a.String()
	}
	if ip := net.ParseIP(host); ip != nil && (ip.IsUnspecified() || ip.IsLoopback()) {
		host = "localhost"
	}
	return net.JoinHostPort(host, port)
}

// serve answers requests until ctx ends, then lets those under way finish.
func (p *program) serve(ctx context.Context) error {
	failed := make(chan error, 1)
	p.probe(ctx) // nothing is answered before the clock was compared
	var kept sync.WaitGroup
	kept.Go(func() { p.keepProbing(ctx) })
	kept.Go(func() { p.keepJudging(ctx) })
	go func() { failed <- p.tls.serve(p.server, p.listener) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	p.log.Info("stopping: requests that are being answered are waited for", "requests", p.answers.Load())
	err := p.server.Shutdown(stop)
	if errors.Is(err, context.DeadlineExceeded) {
		p.log.Warn("stopped: requests were cut off", "requests", p.answers.Load(), "after", stopTimeout)
		err = p.server.Close()
	}
	kept.Wait()
	return errors.Join(err, p.keepHeads(context.WithoutCancel(ctx)))
}

// counted counts the requests that are being answered.
func (p *program) counted(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p.answers.Add(1)
		defer p.answers.Add(-1)
		h.ServeHTTP(w, r)
	})
}

// handler puts API and pages on one router.
func (p *program) handler() (http.Handler, error) {
	gin.SetMode(gin.ReleaseMode)
	p.metrics = cmp.Or(p.metrics, &metrics{})
	r := gin.New()
	r.RedirectTrailingSlash = false
	if err := r.SetTrustedProxies(p.proxies); err != nil {
		return nil, inventory.InvalidField("trusted-proxy", "enter addresses or networks like 10.0.0.0/8")
	}
	r.Use(p.record, p.rescue, p.guarded)
	r.GET("/healthz", func(c *gin.Context) { c.String(http.StatusOK, "ok\n") })
	r.GET("/readyz", p.ready)
	session, terminal := p.cookies()
	if err := api.Mount(r, p.svc, api.Options{BaseURL: p.baseURL, Version: versionOf(debug.ReadBuildInfo()),
		Cookie: session, Secrets: secret.Argon2id{}, Logger: p.log}); err != nil {
		return nil, err
	}
	err := web.Mount(r, p.svc, web.Options{
		BaseURL: p.baseURL, CookieName: session, TerminalCookie: terminal, DemoTerminal: p.terminal,
		Secrets: secret.Argon2id{}, Logger: p.log, Demo: len(p.demo) > 0, DemoSignIns: p.demo, Language: p.language,
		State: p.state, Uploads: upload.In(p.svc.Store),
		NoRoute: api.NoRoute, NoMethod: api.NoMethod,
	})
	return r, err
}

// keepProbing tries every few seconds whether the database can be written, so that a full disk or a locked file is
// known before somebody meets it.
func (p *program) keepProbing(ctx context.Context) {
	for tick := time.NewTicker(probeEvery); ctx.Err() == nil; {
		select {
		case <-tick.C:
			p.probe(ctx)
		case <-ctx.Done():
			tick.Stop()
		}
	}
}

// judgedAtOnce is how many bags are judged while others wait to write, and judgeEvery how long it is at least until
// those are judged of which something was recorded since, or whose day has come.
const judgedAtOnce, judgeEvery = 16, time.Second

// keepJudging keeps what bags are judged to be, so that the report need not look into each. It takes half of the
// time at most: a report judges for itself what is not kept yet.
func (p *program) keepJudging(ctx context.Context) {
	for pause := time.Duration(0); ; {
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
		began := time.Now()
		n, err := p.svc.Report.Keep(ctx, judgedAtOnce)
		switch pause = judgeEvery; {
		case err != nil && ctx.Err() == nil:
			p.log.Error("bags not judged", "error", err)
			pause = probeEvery
		case n == judgedAtOnce:
			pause = time.Since(began)
		}
	}
}

func (p *program) probe(ctx context.Context) *probe {
	within, cancel := context.WithTimeout(ctx, probeEvery)
	defer cancel()
	last := &probe{began: time.Now()}
	if last.err = p.svc.Store.Probe(within); last.err != nil && ctx.Err() == nil {
		p.log.Error("not ready", "error", last.err)
	}
	p.probed.Store(last)
	if err := errors.Join(p.svc.History.LookAtClock(within), p.keepHeads(within)); err != nil && ctx.Err() == nil {
		p.log.Error("clock not compared, or heads not kept", "error", err)
	}
	return last
}

// keepHeads keeps the heads of the chains beside a database file, where they have changed.
func (p *program) keepHeads(ctx context.Context) error {
	if p.db == "" || store.IsPostgres(p.db) {
		return nil
	}
	heads, err := p.svc.Verify.Heads(ctx)
	if err != nil || slices.Equal(heads, p.heads) {
		return err
	}
	p.heads = heads
	return writeHeads(headsFile(p.db), heads)
}

// ready says what became of the last probe; one that is long ago hangs.
func (p *program) ready(c *gin.Context) {
	last := p.probed.Load()
	if last == nil {
		last = p.probe(c.Request.Context())
	}
	switch {
	case inventory.KindOf(last.err) == inventory.StorageFull:
		c.String(http.StatusInsufficientStorage, "no room left to store anything\n")
	case last.err != nil || time.Since(last.began) > 3*probeEvery:
		c.Header("Retry-After", "10")
		c.String(http.StatusServiceUnavailable, "the database does not answer or cannot be written\n")
	default:
		c.String(http.StatusOK, "ready\n"+p.backupAge())
	}
}

// backupAge is a line about the newest backup, where some are taken by the hour.
func (p *program) backupAge() string {
	last := p.backedUp.Load()
	switch {
	case !p.backups:
		return ""
	case last == nil || last.IsZero():
		return "warning: no backup yet\n"
	case p.backupOverdue():
		return "warning: no backup since " + last.Format(time.RFC3339) + "\n"
	}
	return "newest backup: " + last.Format(time.RFC3339) + "\n"
}

// requestID is where a request's context has its id.
type requestID struct{}

// withRequest puts the id of a request to what is logged of it.
type withRequest struct{ slog.Handler }

func (h withRequest) Handle(ctx context.Context, r slog.Record) error {
	if id, ok := ctx.Value(requestID{}).(string); ok {
		r.AddAttrs(slog.String("request_id", id))
	}
	return h.Handler.Handle(ctx, r)
}

// record gives each request an id, counts it and logs it: never its query, body or headers, which may hold what is
// nobody's business.
func (p *program) record(c *gin.Context) {
	began, id := time.Now(), rand.Text()
	c.Header("X-Request-Id", id)
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), requestID{}, id))
	c.Next()
	took, level := time.Since(began), slog.LevelDebug
	if c.Request.Method != http.MethodGet || c.Writer.Status() >= http.StatusInternalServerError {
		level = slog.LevelInfo
	}
	p.metrics.answered(c, took)
	p.log.Log(c.Request.Context(), level, "request", "method", c.Request.Method, "route", c.FullPath(), "status",
		c.Writer.Status(), "took", took)
}

// rescue is the last net: each face has its own, with a page or a problem.
func (p *program) rescue(c *gin.Context) {
	defer func() {
		if v := recover(); v != nil {
			p.log.ErrorContext(c.Request.Context(), "panic", "method", c.Request.Method, "route", c.FullPath(),
				"cause", fmt.Sprint(v))
			c.AbortWithStatus(http.StatusInternalServerError)
		}
	}()
	c.Next()
}
