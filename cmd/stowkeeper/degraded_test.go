package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// asNobody runs the program as a user who is not root, who may write everything.
func asNobody(t *testing.T, folder string, args ...string) outcome {
	t.Helper()
	cmd := command(t.Context(), "1", args...)
	if os.Getuid() == 0 {
		text, err := os.ReadFile(os.Args[0])
		require.NoError(t, err)
		cmd.Path = filepath.Join(folder, "program")
		require.NoError(t, os.WriteFile(cmd.Path, text, 0o755)) //nolint:gosec // nobody runs it
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	err := cmd.Run()
	if _, exited := err.(*exec.ExitError); err != nil && !exited {
		require.NoError(t, err)
	}
	return outcome{cmd.ProcessState.ExitCode(), out.String(), said.String()}
}

// TestDoesNotHalfStart: a service that cannot start says what is the matter and what to do, in a line; it prints no
// address, and leaves the file as it is.
func TestDoesNotHalfStart(t *testing.T) {
	db := smallDatabase(t)
	folder, err := os.MkdirTemp("/tmp", "stowkeeper") // that of the test is its owner's alone
	require.NoError(t, err)
	defer os.RemoveAll(folder)
	require.NoError(t, os.Chmod(folder, 0o755)) //nolint:gosec // nobody looks into it
	place := func(name string, folderMode, mode os.FileMode) string {
		dir := filepath.Join(folder, name)
		require.NoError(t, os.Mkdir(dir, 0o700))
		file := filepath.Join(dir, "stock.db")
		require.NoError(t, vacuumInto(t.Context(), db, file))
		for path, m := range map[string]os.FileMode{file: mode, dir: folderMode} {
			require.NoError(t, os.Chmod(path, m))
			if os.Getuid() == 0 {
				require.NoError(t, os.Chown(path, 65534, 65534))
			}
		}
		t.Cleanup(func() { _ = os.Chmod(dir, 0o700) }) //nolint:gosec // so that it can be removed
		return file
	}
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	newer := place("newer", 0o700, 0o600)
	plain := openPlainly(t, newer)
	_, err = plain.Exec("INSERT INTO schema_version (version_id, is_applied) VALUES (9999, TRUE)")
	require.NoError(t, err)
	require.NoError(t, plain.Close())
	none := place("none", 0o700, 0o600)
	require.NoError(t, os.WriteFile(none, []byte(strings.Repeat("no database\n", 999)), 0o600))
	well := place("well", 0o700, 0o600)
	for _, c := range []struct{ name, db, listen, says string }{
		{"read-only", place("readonly", 0o700, 0o400), "", "--db: this user may not write the file"},
		{"folder", place("folder", 0o500, 0o600), "", "--db: this user may not write the file or into its folder"},
		{"newer", newer, "", "schema version 9999 and this program knows"},
		{"no database", none, "", "--db: damaged, or no database of this program"},
		{"port", well, taken.Addr().String(), "--listen: another program has that port"},
		{"address", well, "127.0.0.1:eighty", "--listen: enter an address of this machine"},
	} {
		was, err := os.ReadFile(c.db)
		require.NoError(t, err)
		if c.listen == "" {
			c.listen = "127.0.0.1:0"
		}
		o := asNobody(t, folder, "serve", "--db", c.db, "--listen", c.listen)
		assert.Equal(t, 1, o.code, c.name)
		assert.Empty(t, o.out, c.name)
		assert.Contains(t, o.err, c.says, c.name)
		assert.Less(t, strings.Count(o.err, "\n"), 3, "%s: %s", c.name, o.err)
		is, err := os.ReadFile(c.db)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(was, is) || !strings.HasPrefix(c.says, "--db"), c.name)
	}
	o := stowkeeper(t, "serve", "--db", damage(t, db), "--listen", "127.0.0.1:0")
	assert.Equal(t, 1, o.code)
	assert.Regexp(t, `--db: damaged.*restore the newest backup\n$`, o.err)
}

// begun opens a connection and sends a part of a request.
func begun(t *testing.T, p *process, part string) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", p.address)
	require.NoError(t, err)
	_, err = io.WriteString(c, part)
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	return c
}

// receipt is a request that records one, and the part of it that its client sends at first.
func receipt(p *process, token, key string) (first, rest string) {
	body := `{"place": "N1-STORE", "item": "GAUZE", "qty": 1}`
	return fmt.Sprintf("POST /api/v1/receipts HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\n"+
		"Content-Type: application/json\r\nIdempotency-Key: %s\r\nContent-Length: %d\r\n\r\n%s", p.address, token, key,
		len(body), body[:20]), body[20:]
}

// TestHalfRequestsCostNobody: two hundred clients that hang after half a head or half a body slow nobody down, and are
// let go after a while.
func TestHalfRequestsCostNobody(t *testing.T) {
	db := smallDatabase(t)
	token := newToken(t, db, "quartermaster", "keeper")
	p := serve(t, db)
	var heads []net.Conn
	began := time.Now()
	for i := range 100 {
		heads = append(heads, begun(t, p, "GET /healthz HTTP/1.1\r\nHost: loc"))
		first, _ := receipt(p, token, fmt.Sprintf("half-%d", i))
		begun(t, p, first)
	}
	c, slowest := newClient(t, p, token), time.Duration(0)
	for i := range 30 {
		at := time.Now()
		a, err := c.send("POST", "/api/v1/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "qty": 1},
			"Idempotency-Key", fmt.Sprintf("whole-%d", i))
		require.NoError(t, err)
		require.Equal(t, http.StatusCreated, a.status)
		slowest = max(slowest, time.Since(at))
	}
	assert.Less(t, slowest, 5*time.Second)
	for _, h := range heads {
		require.NoError(t, h.SetReadDeadline(time.Now().Add(time.Minute)))
		_, _ = io.Copy(io.Discard, h) // until the server closes it
	}
	assert.InDelta(t, headerTimeout, time.Since(began), float64(20*time.Second))
	assert.Contains(t, succeed(t, "verify", "--db", db), "30 stock records")
}

// TestStopDrains: a request that is being answered when the service is asked to stop is finished; the log says how many
// were waited for, and how many were cut off because they did not come to an end.
func TestStopDrains(t *testing.T) {
	db := smallDatabase(t)
	token := newToken(t, db, "quartermaster", "keeper")
	for cutOff, says := range map[bool]string{false: "are waited for\" requests=1", true: "cut off\" requests=1"} {
		p := serve(t, db)
		first, rest := receipt(p, token, "drained")
		if cutOff {
			first = "POST /sign-in HTTP/1.1\r\nHost: " + p.address + "\r\nOrigin: http://" + p.address + "\r\nContent-Type: " +
				"application/x-www-form-urlencoded\r\nContent-Length: 100\r\n\r\nname=Ann"
		}
		conn := begun(t, p, first)
		time.Sleep(500 * time.Millisecond) // until it is being read
		require.NoError(t, p.cmd.Process.Signal(syscall.SIGTERM))
		eventually(t, "it says that it stops", func() bool { return strings.Contains(p.log.String(), "stopping") })
		if !cutOff {
			_, err := io.WriteString(conn, rest)
			require.NoError(t, err)
			answer, err := io.ReadAll(conn)
			require.NoError(t, err)
			assert.Contains(t, string(answer), "HTTP/1.1 201 Created")
		}
		<-p.ended
		assert.Zero(t, p.cmd.ProcessState.ExitCode())
		assert.Contains(t, p.log.String(), says)
	}
	assert.Contains(t, succeed(t, "verify", "--db", db), " 1 stock records")
}

// TestKilledDemoBeginsAgain: the load of a demo that is killed leaves nothing of it, and the next start loads it whole.
func TestKilledDemoBeginsAgain(t *testing.T) {
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			db := storetest.Database(t, engine)
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			cmd := command(ctx, "1", "demo", "--db", db, "--listen", "127.0.0.1:0")
			cmd.Path = demoBinary(t)
			log := &lockedBuffer{}
			cmd.Stderr = log
			require.NoError(t, cmd.Start())
			eventually(t, "it is in the middle", func() bool { return strings.Contains(log.String(), "day 60 of") })
			require.NoError(t, cmd.Process.Kill())
			_ = cmd.Wait()
			assert.Contains(t, succeed(t, "verify", "--db", db), " 0 stock records")
			p := begin(t, demoAddress, "demo", "--db", db, "--listen", "127.0.0.1:0")
			assert.NotEmpty(t, signIn(t, p, "Dilys Wrenfield", "4821"))
			p.stop()
			assert.Regexp(t, `[1-9]\d{3} stock records.* 0 faults`, succeed(t, "verify", "--db", db))
			if engine == store.SQLite {
				left, err := filepath.Glob(db + ".loading*")
				require.NoError(t, err)
				assert.Empty(t, left)
			}
		})
	}
}
