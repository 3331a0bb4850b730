package main

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
)

// keyPair names the files of a certificate and its key.
type keyPair struct{ cert, key string }

func (k keyPair) scheme() string {
	if k.cert == "" {
		return "http"
	}
	return "https"
}

// suites12 are what TLS 1.2 may use: forward secrecy and authenticated encryption only (RFC 9325, section 4.2; OWASP
// ASVS 5.0.0, 12.1.2). TLS 1.3 has no others.
var suites12 = []uint16{
	tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256,
	tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384,
	tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
}

// serve answers on a listener, with TLS where there is a certificate.
func (k keyPair) serve(s *http.Server, l net.Listener) error {
	if k.cert == "" {
		return s.Serve(l)
	}
	s.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, CipherSuites: suites12}
	return s.ServeTLS(l, k.cert, k.key)
}

// check reads the pair, so that a wrong file is an error at start.
func (k keyPair) check() error {
	if k.cert == "" {
		return nil
	}
	_, err := tls.LoadX509KeyPair(k.cert, k.key)
	return err
}

func (p *program) isTLS() bool { return strings.HasPrefix(p.baseURL, "https://") }

// cookies names the cookies of sessions and terminals. Over TLS the prefix has
// browsers refuse them from anywhere but this very host (RFC 6265bis).
func (p *program) cookies() (session, terminal string) {
	if p.isTLS() {
		return "__Host-stowkeeper_session", "__Host-stowkeeper_terminal"
	}
	return "stowkeeper_session", "stowkeeper_terminal"
}

// strictest is the policy of an answer that is no page: it loads nothing and is
// framed by nobody. Pages set their own.
const strictest = "default-src 'none'; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// guarded sets what every answer is sent with, whichever part of the program gives it: nobody guesses what it is,
// frames it, learns its address, or, once it came over TLS, asks for it without (OWASP ASVS 5.0.0, 3.4).
func (p *program) guarded(c *gin.Context) {
	c.Header("Content-Security-Policy", strictest)
	c.Header("Referrer-Policy", "same-origin")
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("X-Frame-Options", "DENY")
	c.Header("Cross-Origin-Resource-Policy", "same-origin")
	c.Header("Cross-Origin-Opener-Policy", "same-origin")
	if p.isTLS() {
		c.Header("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
}

// ownHost answers only what was sent to this service by a name of its own: that of the base URL, where it listens, or
// one that it was told of. So a page of a stranger's, whose name they have point here, learns nothing. Health is told
// to whoever asks.
func (p *program) ownHost(h http.Handler) http.Handler {
	own := append([]string{reachable(p.listener.Addr()), p.listener.Addr().String()}, p.hosts...)
	if base, err := url.Parse(p.baseURL); err == nil {
		own = append(own, base.Host)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		known := slices.ContainsFunc(own, func(host string) bool { return host == "*" || strings.EqualFold(host, r.Host) })
		if !known && r.URL.Path != "/healthz" && r.URL.Path != "/readyz" {
			http.Error(w, "not the host of this service: use "+p.baseURL+", or start it with --host",
				http.StatusMisdirectedRequest)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// headAsGet answers HEAD as GET: the server itself leaves the body out.
func headAsGet(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			r = r.WithContext(r.Context())
			r.Method = http.MethodGet
		}
		h.ServeHTTP(w, r)
	})
}
