package web

import (
	"net"
	"net/http"
	"strings"
	"time"

	"stowkeeper/inventory/account"
)

// terminalLife is how long a browser keeps that it is an enrolled terminal; each sign-in begins it anew. Browsers
// keep no cookie longer than 400 days (RFC 6265bis, from memory).
const terminalLife = 400 * 24 * time.Hour

func (s *server) from(v *visit) account.From {
	f := account.From{Terminal: s.terminalSecret(v), Address: v.ClientIP(), Browser: browserOf(v.Request.UserAgent())}
	if c, err := v.Request.Cookie(s.opt.CookieName); err == nil {
		f.Session = c.Value
	}
	return f
}

// terminalSecret is the secret that makes the browser an enrolled terminal. In
// the demo a browser on the same machine needs none, and one of an earlier demo
// is as good as none: the service began again, or was restored, without it.
func (s *server) terminalSecret(v *visit) string {
	if c, err := v.Request.Cookie(s.opt.TerminalCookie); err == nil && c.Value != "" {
		t, err := s.svc.Account.TerminalOf(v.ctx(), c.Value)
		if err != nil || t.Name != "" {
			return c.Value
		}
		v.unknownTerminal = true
	}
	if s.opt.DemoTerminal != "" && onThisMachine(v.Request) {
		return s.opt.DemoTerminal
	}
	return ""
}

// onThisMachine tells whether a request came over the loopback and through no proxy.
func onThisMachine(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && net.ParseIP(host).IsLoopback() && r.Header.Get("X-Forwarded-For") == "" &&
		r.Header.Get("Forwarded") == ""
}

// terminalName names the enrolled terminal that the browser is; empty for none.
func (s *server) terminalName(v *visit) string {
	t, err := s.svc.Account.TerminalOf(v.ctx(), s.terminalSecret(v))
	if err != nil {
		s.opt.Logger.WarnContext(v.ctx(), "terminal not looked up", "cause", err)
	}
	return t.Name
}

func (s *server) setTerminal(v *visit, secret string) {
	v.keep(s.opt.TerminalCookie, secret, terminalLife, false)
}

// browserOf says in short what a browser calls itself, as in "Firefox on
// Android": enough to tell one's own sessions apart.
func browserOf(agent string) string {
	first := func(otherwise string, pairs ...string) string {
		for i := 0; i < len(pairs); i += 2 {
			if strings.Contains(agent, pairs[i]) {
				return pairs[i+1]
			}
		}
		return otherwise
	}
	// In this order, since most browsers name others too.
	browser := first("a browser", "Firefox/", "Firefox", "Edg", "Edge", "OPR/", "Opera", "Chrom", "Chrome", "CriOS",
		"Chrome", "Safari/", "Safari")
	system := first("", "Android", "Android", "iPhone", "iPhone", "iPad", "iPad", "Windows", "Windows", "Mac OS", "macOS",
		"Linux", "Linux")
	if system == "" {
		return browser
	}
	return browser + " on " + system
}
