// Package fault reads what the engines' errors mean to us.
package fault

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
)

// Fault is what an engine's error code means to us.
type Fault int

// The faults.
const (
	Other   Fault = iota
	Unique        // a key is taken
	Foreign       // a reference names nothing
	Check         // a value that the table does not take
	Race          // lost a race against another writer; run it again
	Busy          // cannot be reached or locked just now
	Full          // has no room left
	Broken        // cannot be written, or is damaged
)

// Codes of SQLite: https://www.sqlite.org/rescode.html.
const (
	sqliteBusy       = 5
	sqliteLocked     = 6
	SQLiteReadOnly   = 8
	SQLiteCorrupt    = 11
	sqliteFull       = 13
	SQLiteNotADB     = 26
	sqliteCheck      = 275
	sqliteForeignKey = 787
	sqlitePrimaryKey = 1555
	sqliteUnique     = 2067
)

// Of reads the code of a driver's error, however deep it is wrapped. gorm's own translation is left off, since
// it drops the error that it translates and does not look into wrapped ones.
func Of(err error) Fault {
	var lite *sqlite.Error
	if errors.As(err, &lite) {
		return ofSQLite(lite.Code())
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return ofPostgres(pg.Code)
	}
	var connect *pgconn.ConnectError
	var network net.Error
	if errors.As(err, &connect) || errors.As(err, &network) || pgconn.SafeToRetry(err) {
		return Busy
	}
	for _, lost := range []error{driver.ErrBadConn, sql.ErrConnDone, io.EOF, io.ErrUnexpectedEOF, net.ErrClosed} {
		if errors.Is(err, lost) { // the connection went in the middle of something
			return Busy
		}
	}
	return Other
}

func ofSQLite(code int) Fault {
	switch code {
	case sqliteUnique, sqlitePrimaryKey:
		return Unique
	case sqliteForeignKey:
		return Foreign
	case sqliteCheck:
		return Check
	}
	switch code & 0xff {
	case sqliteBusy, sqliteLocked:
		return Busy
	case sqliteFull:
		return Full
	case SQLiteReadOnly, SQLiteCorrupt, SQLiteNotADB:
		return Broken
	}
	return Other
}

// postgresFault reads a code of PostgreSQL's manual, appendix A.
func ofPostgres(code string) Fault {
	switch code {
	case "23505":
		return Unique
	case "23503":
		return Foreign
	case "23514":
		return Check
	case "40001", "40P01", "55P03":
		return Race
	case "53300", "57P01", "57P02", "57P03", "25006": // the last: it became a standby meanwhile
		return Busy
	case "53100":
		return Full
	}
	if strings.HasPrefix(code, "08") {
		return Busy
	}
	return Other
}

// InDoubt tells whether a commit on PostgreSQL that failed may have been done all the same: what came back, if
// anything, was not the word of a server that goes on. The driver calls errors safe to retry also where it was sent.
func InDoubt(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Severity == "ERROR" || errors.Is(err, pgx.ErrTxCommitRollback) {
		return false
	}
	// database/sql returns these as they are where it has not asked the server
	return err != nil && err != sql.ErrTxDone && err != context.Canceled && err != context.DeadlineExceeded
}

// MaxRetries is how often what lost a race is tried again.
const MaxRetries = 6

// Pause waits 5 to 10 milliseconds, and twice as long with each try, up to half a second.
func Pause(ctx context.Context, try int) error {
	base := 5 * time.Millisecond << min(try, MaxRetries)
	select {
	case <-time.After(base + rand.N(base)): // #nosec G404 -- no secret
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// AndRollback is what went wrong with the rollback, save that there was nothing left to roll back, and else err. Where
// several shared what could not be undone, err may rest on what others wrote and did not last: it is only told.
func AndRollback(err, rollback error) error {
	if rollback == nil || errors.Is(rollback, sql.ErrTxDone) || err == nil {
		return err
	}
	return fmt.Errorf("%w (rolling back after: %v)", rollback, err)
}
