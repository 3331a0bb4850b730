package store

import (
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// fault is what an engine's error code means to us.
type fault int

const (
	faultOther   fault = iota
	faultUnique        // a key is taken
	faultForeign       // a reference names nothing
	faultCheck         // a value that the table does not take
	faultRace          // lost a race against another writer; run it again
	faultBusy          // cannot be reached or locked just now
	faultFull          // has no room left
	faultBroken        // cannot be written, or is damaged
)

// Codes of SQLite: https://www.sqlite.org/rescode.html.
const (
	sqliteBusy       = 5
	sqliteLocked     = 6
	sqliteReadOnly   = 8
	sqliteCorrupt    = 11
	sqliteFull       = 13
	sqliteNotADB     = 26
	sqliteCheck      = 275
	sqliteForeignKey = 787
	sqlitePrimaryKey = 1555
	sqliteUnique     = 2067
)

// faultOf reads the code of a driver's error, however deep it is wrapped. gorm's own translation is left off, since
// it drops the error that it translates and does not look into wrapped ones.
func faultOf(err error) fault {
	var lite *sqlite.Error
	if errors.As(err, &lite) {
		return sqliteFault(lite.Code())
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return postgresFault(pg.Code)
	}
	var connect *pgconn.ConnectError
	var network net.Error
	if errors.As(err, &connect) || errors.As(err, &network) || pgconn.SafeToRetry(err) {
		return faultBusy
	}
	for _, lost := range []error{driver.ErrBadConn, sql.ErrConnDone, io.EOF, io.ErrUnexpectedEOF, net.ErrClosed} {
		if errors.Is(err, lost) { // the connection went in the middle of something
			return faultBusy
		}
	}
	return faultOther
}

func sqliteFault(code int) fault {
	switch code {
	case sqliteUnique, sqlitePrimaryKey:
		return faultUnique
	case sqliteForeignKey:
		return faultForeign
	case sqliteCheck:
		return faultCheck
	}
	switch code & 0xff {
	case sqliteBusy, sqliteLocked:
		return faultBusy
	case sqliteFull:
		return faultFull
	case sqliteReadOnly, sqliteCorrupt, sqliteNotADB:
		return faultBroken
	}
	return faultOther
}

// postgresFault reads a code of PostgreSQL's manual, appendix A.
func postgresFault(code string) fault {
	switch code {
	case "23505":
		return faultUnique
	case "23503":
		return faultForeign
	case "23514":
		return faultCheck
	case "40001", "40P01", "55P03":
		return faultRace
	case "53300", "57P01", "57P02", "57P03":
		return faultBusy
	case "53100":
		return faultFull
	}
	if strings.HasPrefix(code, "08") {
		return faultBusy
	}
	return faultOther
}

// failure turns an engine's error into one of package inventory. op names the operation for the log; taken is what
// people are told when a key is taken. What is not known stays internal.
func failure(op, taken string, err error) error {
	var own *inventory.Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	kind, text := inventory.Conflict, message.M(taken)
	switch faultOf(err) {
	case faultUnique:
	case faultForeign:
		text = message.M("it names something that does not exist, or that belongs to something else")
	case faultCheck:
		text = message.M("a value is outside what can be stored")
	case faultRace:
		kind, text = inventory.Unavailable, message.M("others were changing the same things; try again")
	case faultBusy:
		kind, text = inventory.Unavailable, message.M("the database cannot be reached just now; try again")
	case faultBroken:
		kind, text = inventory.Unavailable, message.M("the database is damaged or cannot be written: tell its administrator")
	case faultFull:
		kind, text = inventory.StorageFull, message.M("no room left on the service's disk: tell its administrator")
	default:
		return fmt.Errorf("%s: %w", op, err)
	}
	return &inventory.Error{Kind: kind, Message: text, Cause: fmt.Errorf("%s: %w", op, err)}
}

// notFound names for the log what a store was asked for.
func notFound(thing string) error {
	return &inventory.Error{Kind: inventory.NotFound, Message: message.M("not found"), Cause: errors.New("no " + thing)}
}

func stale(thing string) error {
	return &inventory.Error{Kind: inventory.Stale, Message: message.M("changed meanwhile: reload and repeat"),
		Cause: errors.New("another " + thing)}
}
