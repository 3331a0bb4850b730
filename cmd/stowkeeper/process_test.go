package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"regexp"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// process is a running server.
type process struct {
	t       testing.TB
	cmd     *exec.Cmd
	address string // as it printed it, reached by number
	printed *lockedBuffer
	log     *lockedBuffer
	ended   chan struct{} // closed when the process is gone
	cancel  context.CancelFunc
}

// lockedBuffer is written by one goroutine and read by another.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// servesLine is what a server prints when it listens.
var servesLine = regexp.MustCompile(`^Stowkeeper serves \S+ on (127\.0\.0\.1:\d+)$`)

// serve runs stowkeeper serve on a database and a free port until the test
// ends, and returns once it has printed its address.
func serve(t testing.TB, db string) *process {
	t.Helper()
	return begin(t, servesLine, "serve", "--db", db, "--listen", "127.0.0.1:0")
}

// begin starts a server and waits for the line that has its address.
func begin(t testing.TB, line *regexp.Regexp, args ...string) *process {
	t.Helper()
	path := os.Args[0]
	if args[0] == "demo" {
		path = demoBinary(t)
	}
	return beginAs(t, path, line, args...)
}

// beginAs starts a server by one of its binaries.
func beginAs(t testing.TB, path string, line *regexp.Regexp, args ...string) *process {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	p := &process{t: t, cmd: command(ctx, "tied", args...), printed: &lockedBuffer{}, log: &lockedBuffer{},
		ended: make(chan struct{}), cancel: cancel}
	p.cmd.Path = path
	p.cmd.Stderr = p.log
	input, err := p.cmd.StdinPipe() // open for as long as the tests live
	require.NoError(t, err)
	output, w, err := os.Pipe()
	require.NoError(t, err)
	p.cmd.Stdout = w
	require.NoError(t, p.cmd.Start())
	require.NoError(t, w.Close())
	go func() {
		_ = p.cmd.Wait() // how it ended is in ProcessState
		_ = input.Close()
		close(p.ended)
	}()
	t.Cleanup(func() { cancel(); <-p.ended })
	found := make(chan string, 1)
	go p.read(output, line, found)
	select {
	case p.address = <-found:
	case <-p.ended:
	case <-time.After(patience):
	}
	if p.address == "" {
		cancel()
		<-p.ended
		require.FailNow(t, "no address was printed", "%s\n%s", p.printed, p.log)
	}
	return p
}

// read keeps what the process prints and sends the address once it is there.
func (p *process) read(output io.ReadCloser, line *regexp.Regexp, found chan<- string) {
	defer output.Close()
	for s := bufio.NewScanner(output); s.Scan(); {
		_, _ = io.WriteString(p.printed, s.Text()+"\n")
		if m := line.FindStringSubmatch(s.Text()); m != nil && len(found) == 0 {
			found <- m[1]
		}
	}
}

// stop asks the server to end, as a service manager does, and expects it to
// end well.
func (p *process) stop() {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Signal(syscall.SIGTERM))
	select {
	case <-p.ended:
		assert.Zero(p.t, p.cmd.ProcessState.ExitCode(), "%s", p.log)
	case <-time.After(patience):
		assert.Fail(p.t, "the server does not stop", "%s", p.log)
	}
}

// kill ends the server at once with SIGKILL and returns when it is gone.
func (p *process) kill() {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Kill())
	<-p.ended
}
