package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/web"
)

// program is the running service: use cases with their two faces.
type program struct {
	svc      *services.All
	listen   string // host:port; port 0 takes a free one
	baseURL  string // how people reach it; http://ADDRESS for none
	language string // of the pages; English for none
	demo     []web.DemoSignIn
	log      *slog.Logger

	terminal string   // secret of the terminal that every browser on this machine is taken for; demo only
	tls      keyPair  // certificate and key in files; none serves plain HTTP
	proxies  []string // addresses whose word for where a request came from is taken

	server   *http.Server
	listener net.Listener
}

// Limits of one request and connection.
const (
	headerTimeout = 10 * time.Second
	bodyTimeout   = 60 * time.Second
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 5 * time.Second
	maxHeader     = 64 << 10
)

// start begins to listen and serve and returns the base URL. It comes back at
// once; wait says how it ended.
func (p *program) start() (string, error) {
	l, err := net.Listen("tcp", p.listen)
	if err != nil {
		return "", fmt.Errorf("listen: %w", err)
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
		Handler: handler, ReadHeaderTimeout: headerTimeout, ReadTimeout: bodyTimeout, WriteTimeout: bodyTimeout,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeader, ErrorLog: slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
	}
	return p.baseURL, nil
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
	go func() { failed <- p.tls.serve(p.server, p.listener) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	return p.server.Shutdown(stop)
}

// handler puts API and pages on one router.
func (p *program) handler() (http.Handler, error) {
	gin.SetMode(gin.ReleaseMode)
	r := gin.New()
	r.RedirectTrailingSlash = false
	if err := r.SetTrustedProxies(p.proxies); err != nil {
		return nil, inventory.Invalidf("trusted-proxy", "give addresses or networks, as in 10.0.0.0/8")
	}
	r.Use(p.record, p.rescue, p.guarded)
	r.GET("/healthz", func(c *gin.Context) { c.String(http.StatusOK, "ok\n") })
	r.GET("/readyz", p.ready)
	session, terminal := p.cookies()
	if err := api.Mount(r, p.svc, api.Options{BaseURL: p.baseURL, Version: version(), Cookie: session,
		Secrets: secret.Argon2id{}, Logger: p.log}); err != nil {
		return nil, err
	}
	err := web.Mount(r, p.svc, web.Options{
		BaseURL: p.baseURL, CookieName: session, TerminalCookie: terminal, DemoTerminal: p.terminal,
		Secrets: secret.Argon2id{}, Logger: p.log, Demo: len(p.demo) > 0, DemoSignIns: p.demo, Language: p.language,
		NoRoute: api.NoRoute, NoMethod: api.NoMethod,
	})
	return r, err
}

// ready says whether the database answers.
func (p *program) ready(c *gin.Context) {
	if err := p.svc.Store.Ping(c.Request.Context()); err != nil {
		p.log.Error("not ready", "error", err)
		c.String(http.StatusServiceUnavailable, "the database does not answer\n")
		return
	}
	c.String(http.StatusOK, "ready\n")
}

// record logs each request: never its query, body or headers, which may hold
// what is nobody's business.
func (p *program) record(c *gin.Context) {
	began := time.Now()
	c.Next()
	p.log.Debug("request", "method", c.Request.Method, "route", c.FullPath(), "status", c.Writer.Status(), "took",
		time.Since(began))
}

// rescue is the last net: each face has its own, with a page or a problem.
func (p *program) rescue(c *gin.Context) {
	defer func() {
		if v := recover(); v != nil {
			p.log.Error("panic", "method", c.Request.Method, "route", c.FullPath(), "cause", fmt.Sprint(v))
			c.AbortWithStatus(http.StatusInternalServerError)
		}
	}()
	c.Next()
}
