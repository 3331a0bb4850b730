package main

import (
	"net"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestExposed: a service says at its start what could be read on the way.
func TestExposed(t *testing.T) {
	for _, c := range []struct {
		listen, base, db string
		says             []string
	}{
		{"127.0.0.1:8080", "http://localhost:8080", "stock.db", nil},
		{"127.0.0.1:8080", "https://stock.example.org", "postgres://u:p@/stock?host=/run/postgresql", nil},
		{"[::1]:80", "http://localhost", "postgres://u@127.0.0.1/stock", nil},
		{"0.0.0.0:443", "https://stock.example.org", "postgres://u@db.example.org/stock?sslmode=verify-full", nil},
		{"0.0.0.0:80", "http://stock.example.org", "stock.db", []string{"plain http"}},
		{"192.0.2.7:80", "http://192.0.2.7", "postgres://u@db.example.org/stock", []string{"plain http",
			"sslmode=verify-full"}},
		{"127.0.0.1:80", "https://stock.example.org", "postgres://u@localhost/stock?host=db.example.org",
			[]string{"sslmode"}},
		{"127.0.0.1:80", "https://stock.example.org", "postgres://u@db.example.org/stock?sslmode=require",
			[]string{"sslmode"}},
	} {
		at, err := net.ResolveTCPAddr("tcp", c.listen)
		require.NoError(t, err)
		said := exposed(at, c.base, c.db)
		if assert.Len(t, said, len(c.says), "%+v", c) {
			for i, part := range c.says {
				assert.Contains(t, said[i], part)
			}
		}
	}
}
