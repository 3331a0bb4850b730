package main

import (
	"io"
	"net"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// link is the way between a phone and a server, which can be cut: then what is
// open is broken off, and what is opened leads nowhere.
type link struct {
	listener net.Listener
	to       string // the server's address

	mu     sync.Mutex
	down   bool
	deaf   bool // what the phone sends arrives, and no answer comes back
	open   map[net.Conn]bool
	came   int // bytes that the phone was sent
	closed bool
	relays sync.WaitGroup
}

func newLink(t testing.TB, to string) *link {
	t.Helper()
	l := &link{to: to, open: map[net.Conn]bool{}}
	var err error
	l.listener, err = net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	l.relays.Go(l.accept)
	t.Cleanup(func() {
		l.mu.Lock()
		l.closed = true
		l.mu.Unlock()
		_ = l.listener.Close()
		l.set(true, false)
		l.relays.Wait()
	})
	return l
}

// url is what the phone opens.
func (l *link) url() string { return "http://" + l.listener.Addr().String() }

// set cuts the link or mends it. Cutting breaks off what is open.
func (l *link) set(down, deaf bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.down, l.deaf = down, deaf
	if down {
		for c := range l.open {
			_ = c.Close()
		}
	}
}

// carried is how many bytes the phone was sent, heads included.
func (l *link) carried() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.came
}

func (l *link) accept() {
	for {
		c, err := l.listener.Accept()
		if err != nil {
			return
		}
		l.relays.Go(func() { l.relay(c) })
	}
}

func (l *link) relay(phone net.Conn) {
	defer phone.Close()
	server, err := net.Dial("tcp", l.to)
	if err != nil {
		return
	}
	defer server.Close()
	if !l.keep(phone, server) {
		return
	}
	defer l.drop(phone, server)
	l.relays.Go(func() {
		_, _ = io.Copy(server, phone)
		_ = server.Close()
	})
	_, _ = io.Copy(&ear{l, phone}, server)
}

// keep notes an open way, unless the link is cut.
func (l *link) keep(conns ...net.Conn) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.down || l.closed {
		return false
	}
	for _, c := range conns {
		l.open[c] = true
	}
	return true
}

func (l *link) drop(conns ...net.Conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range conns {
		delete(l.open, c)
	}
}

// ear takes what the server answers to the phone. On a deaf link the answer is
// lost, and the way is broken off.
type ear struct {
	l     *link
	phone net.Conn
}

func (e *ear) Write(p []byte) (int, error) {
	e.l.mu.Lock()
	deaf := e.l.deaf
	e.l.came += len(p)
	e.l.mu.Unlock()
	if deaf {
		_ = e.phone.Close()
		return 0, net.ErrClosed
	}
	return e.phone.Write(p)
}
