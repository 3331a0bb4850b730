// Package sqlitefile is what a database has of a file: how it is opened, that it stays the same one, and a copy of it.
package sqlitefile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"modernc.org/sqlite"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Files are the database's file and its log, by their paths, as they were when it was opened.
type Files struct {
	sync.Mutex
	open map[string]os.FileInfo
}

// Remember notes which files lie there now.
func (f *Files) Remember(path string) {
	f.open = map[string]os.FileInfo{path: nil, path + "-wal": nil}
	_ = f.Swapped()
}

// Swapped refuses to go on where another file lies where one that is open was: what is written would be lost, and what
// is read is no longer what there is. The log comes and goes while nothing is written. Refuses: Unavailable.
func (f *Files) Swapped() error {
	f.Lock()
	defer f.Unlock()
	for path, was := range f.open {
		now, err := os.Stat(path)
		if was == nil {
			f.open[path] = now
		} else if err != nil || !os.SameFile(was, now) {
			return &inventory.Error{Kind: inventory.Unavailable, Cause: err,
				Message: message.M("the database's files were moved or replaced: stop the program, then start it again")}
		}
	}
	return nil
}

// MakePrivate makes the file, where there is none, for its owner alone, since
// hashes of PINs are in it. SQLite gives the files beside it the same mode.
func MakePrivate(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600) // #nosec G304 -- the operator names it
	if err != nil {
		return err
	}
	return f.Close()
}

// DSN is the connection string of a file. Settings travel in it, so that every connection has them.
func DSN(path string, readOnly bool) string {
	q := url.Values{}
	for _, p := range []string{"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"} {
		q.Add("_pragma", p)
	}
	if readOnly {
		q.Add("_pragma", "query_only(1)")
	} else {
		q.Add("_txlock", "immediate")
	}
	// The path is escaped, since ? and % in it would be read as URI syntax.
	return "file:" + (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath() + "?" + q.Encode()
}

// pragmas are the settings that every connection must report back. A setting
// that is misspelt or unknown is ignored by SQLite without an error.
var pragmas = []struct{ name, want string }{
	{"busy_timeout", "5000"}, {"journal_mode", "wal"}, {"synchronous", "2"}, {"foreign_keys", "1"},
}

// CheckPool reads the settings back on so many connections of a pool, which are all that it may open, and whether they
// may only read.
func CheckPool(ctx context.Context, pool *sql.DB, n int, readOnly bool) error {
	queryOnly := map[bool]string{false: "0", true: "1"}[readOnly]
	for range n { // connections are held until the end, so that each is another one
		conn, err := pool.Conn(ctx)
		if err != nil {
			return err
		}
		defer conn.Close()
		for _, p := range append(pragmas[:len(pragmas):len(pragmas)], struct{ name, want string }{"query_only", queryOnly}) {
			var got string
			if err := conn.QueryRowContext(ctx, "PRAGMA "+p.name).Scan(&got); err != nil {
				return fmt.Errorf("read %s: %w", p.name, err)
			}
			if got != p.want {
				return fmt.Errorf("SQLite reports %s = %s and must report %s; is the file on a disk that it cannot share?", p.name,
					got, p.want)
			}
		}
	}
	return nil
}

// CopyTo copies a file as it is at one moment, over a connection that otherwise only reads.
func CopyTo(ctx context.Context, pool *sql.DB, file string) error {
	conn, err := pool.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "PRAGMA query_only(0)"); err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, "VACUUM INTO ?", file)
	_, again := conn.ExecContext(context.WithoutCancel(ctx), "PRAGMA query_only(1)")
	return errors.Join(err, again)
}

// Enter opens the first connection of a pool, which switches the file to its log. For that it needs the file alone, and
// SQLite does not wait for it: this does, for up to five seconds, where another copy starts at the same time.
func Enter(ctx context.Context, pool *sql.DB) error {
	for try := 0; ; try++ {
		err := pool.PingContext(ctx)
		var lite *sqlite.Error
		if err == nil || try == 100 || !errors.As(err, &lite) || lite.Code()&0xff != busy {
			return err
		}
		select {
		case <-time.After(50 * time.Millisecond):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

const busy = 5 // SQLITE_BUSY
