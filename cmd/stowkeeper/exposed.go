package main

import (
	"net"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory/store"
)

// exposed says what of a service's traffic anybody on the way could read, in sentences for the log; none where
// nothing is (OWASP ASVS 5.0.0, 12.2.1, 12.3.1 and 12.3.2). Nothing is refused: the way may be protected otherwise.
func exposed(listen net.Addr, baseURL, db string) []string {
	var out []string
	if host, _, err := net.SplitHostPort(listen.String()); strings.HasPrefix(baseURL, "http:") && (err != nil ||
		!loopback(host)) {
		out = append(out, "plain http from other machines: PINs and passwords can be read on the way; "+
			"set --tls-cert and --tls-key, or listen on 127.0.0.1 behind a proxy with https")
	}
	if store.IsPostgres(db) && !proven(db) {
		out = append(out, "the connection to the database may be unencrypted or to the wrong server: "+
			"add sslmode=verify-full to --db")
	}
	return out
}

// proven tells whether a PostgreSQL address stays on this machine, or asks for
// TLS with a certificate that is checked.
func proven(db string) bool {
	u, err := url.Parse(db)
	if err != nil {
		return false
	}
	host := u.Hostname()
	if q := u.Query(); q.Has("host") {
		host = q.Get("host")
	}
	return host == "" || strings.HasPrefix(host, "/") || loopback(host) || slices.Contains([]string{"verify-ca",
		"verify-full"}, u.Query().Get("sslmode"))
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
