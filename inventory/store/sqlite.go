package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"

	_ "github.com/glebarez/go-sqlite" // the driver "sqlite"; required by name to be newer than the dialect asks
	dialect "github.com/glebarez/sqlite"
	"gorm.io/gorm"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

const sqliteReaders = 6

// openSQLite opens two pools on one file: one connection that writes, whose transactions take the write lock when
// they begin, and several that may only read. Settings travel in the connection string, so that every connection has
// them. (Never add _time_format to it: the driver then drops _txlock.)
func (s *database) openSQLite(ctx context.Context, path string, opts Options) error {
	if strings.TrimSpace(path) == "" {
		return errors.New("name a file")
	}
	s.engine = SQLite
	err := makePrivate(path)
	if err != nil {
		return err
	}
	s.driver = cmp.Or(opts.SQLiteDriver, "sqlite")
	if s.writes, err = sql.Open(s.driver, sqliteDSN(path, false)); err != nil {
		return err
	}
	s.writes.SetMaxOpenConns(1)
	if err := s.writes.PingContext(ctx); err != nil { // sets the journal mode before readers look for it
		return err
	}
	if s.reads, err = sql.Open(s.driver, sqliteDSN(path, true)); err != nil {
		return err
	}
	s.files.remember(path)
	readers := cmp.Or(opts.MaxConns, sqliteReaders)
	s.reads.SetMaxOpenConns(readers)
	s.reads.SetMaxIdleConns(readers)
	s.gorm, err = gorm.Open(dialect.Dialector{Conn: s.writes}, s.gormConfig())
	return err
}

// files are the database's file and its log, by their paths.
type files struct {
	sync.Mutex
	open map[string]os.FileInfo
}

func (f *files) remember(path string) {
	f.open = map[string]os.FileInfo{path: nil, path + "-wal": nil}
	_ = f.swapped()
}

// swapped refuses to go on where another file lies where one that is open was: what is written would be lost, and what
// is read is no longer what there is. The log comes and goes while nothing is written.
func (f *files) swapped() error {
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

// makePrivate makes the file, where there is none, for its owner alone, since
// hashes of PINs are in it. SQLite gives the files beside it the same mode.
func makePrivate(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

func sqliteDSN(path string, readOnly bool) string {
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

// checkPragmas reads the settings back on the writer and on every connection that the readers' pool may open.
func (s *database) checkPragmas(ctx context.Context) error {
	if err := checkPool(ctx, s.writes, 1, "0"); err != nil {
		return fmt.Errorf("writer: %w", err)
	}
	if err := checkPool(ctx, s.reads, s.reads.Stats().MaxOpenConnections, "1"); err != nil {
		return fmt.Errorf("readers: %w", err)
	}
	return nil
}

func checkPool(ctx context.Context, pool *sql.DB, n int, queryOnly string) error {
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
