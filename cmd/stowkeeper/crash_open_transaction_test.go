//go:build unix

package main

import (
	"database/sql"
	"os"
	"syscall"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
)

// freeze stops every thread of the process where it is.
func (p *process) freeze() {
	p.t.Helper()
	pid := p.cmd.Process.Pid
	require.NoError(p.t, syscall.Kill(pid, syscall.SIGSTOP))
	var status syscall.WaitStatus
	_, err := syscall.Wait4(pid, &status, syscall.WUNTRACED, nil) // tells when all threads stand still
	require.NoError(p.t, err)
	require.True(p.t, status.Stopped(), "the server ended by itself: %s", p.log)
}

// thaw lets the process go on.
func (p *process) thaw() {
	p.t.Helper()
	require.NoError(p.t, syscall.Kill(p.cmd.Process.Pid, syscall.SIGCONT))
}

// open tells whether the frozen server is inside a transaction that writes.
func (c *crash) open() bool {
	c.Helper()
	if c.engine == store.Postgres {
		return c.openOnPostgres()
	}
	return c.openOnSQLite()
}

// walWriteLock is the byte of the -shm file that a writer locks from the begin
// of its transaction to its end (sqlite.org/walformat.html, 2.3.2).
const walWriteLock = 120

// openOnSQLite asks the system who holds the lock of the one writer.
func (c *crash) openOnSQLite() bool {
	c.Helper()
	f, err := os.Open(c.db + "-shm")
	require.NoError(c, err)
	defer f.Close()
	lock := syscall.Flock_t{Type: syscall.F_WRLCK, Start: walWriteLock, Len: 1}
	require.NoError(c, syscall.FcntlFlock(f.Fd(), syscall.F_GETLK, &lock))
	return lock.Type != syscall.F_UNLCK && int(lock.Pid) == c.server.cmd.Process.Pid
}

// openOnPostgres looks for a session that has written (it has a transaction
// id) and now waits for its client, which stands still: nobody has asked to
// commit. Sessions that still work at a statement may be at the commit itself,
// so it waits until there are none.
func (c *crash) openOnPostgres() bool {
	c.Helper()
	db, err := sql.Open("pgx", c.db)
	require.NoError(c, err)
	defer db.Close()
	var idle int
	eventually(c, "the server's sessions wait", func() bool {
		var busy int
		err := db.QueryRow(`SELECT count(*) FILTER (WHERE state = 'active' AND wait_event_type IS DISTINCT FROM 'Lock'),
			count(*) FILTER (WHERE state = 'idle in transaction' AND backend_xid IS NOT NULL)
			FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`).Scan(&busy, &idle)
		require.NoError(c, err)
		return busy == 0
	})
	return idle > 0
}
