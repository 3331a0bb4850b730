package store

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"net"
	"strings"

	sqlite "github.com/glebarez/go-sqlite"
	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"stowkeeper/inventory"
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
)

// Codes of SQLite: https://www.sqlite.org/rescode.html.
const (
	sqliteBusy       = 5
	sqliteLocked     = 6
	sqliteCheck      = 275
	sqliteForeignKey = 787
	sqlitePrimaryKey = 1555
	sqliteUnique     = 2067
)

// faultOf reads the code of a driver's error, however deep it is wrapped.
// gorm's own translation is left off, since it drops the error that it
// translates and does not look into wrapped ones.
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
	if errors.As(err, &connect) || errors.Is(err, driver.ErrBadConn) || errors.As(err, &network) {
		return faultBusy
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
	}
	if strings.HasPrefix(code, "08") {
		return faultBusy
	}
	return faultOther
}

// failure turns an engine's error into one of package inventory. op names the
// operation for the log; taken is what people are told when a key is taken.
// What is not known stays internal.
func failure(op, taken string, err error) error {
	var own *inventory.Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	kind, message := inventory.Conflict, taken
	switch faultOf(err) {
	case faultUnique:
	case faultForeign:
		message = "it names something that does not exist, or that belongs to something else"
	case faultCheck:
		message = "a value is outside what can be stored"
	case faultRace:
		kind, message = inventory.Unavailable, "others were changing the same things; try again"
	case faultBusy:
		kind, message = inventory.Unavailable, "the database cannot be reached just now; try again"
	default:
		return fmt.Errorf("%s: %w", op, err)
	}
	return &inventory.Error{Kind: kind, Message: message, Cause: fmt.Errorf("%s: %w", op, err)}
}

// missing turns gorm's "no row" into NotFound with the name of the thing.
func missing(op, thing string, err error) error {
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return notFound(thing)
	}
	return failure(op, "", err)
}

func notFound(thing string) error {
	return inventory.Errorf(inventory.NotFound, "there is no such %s", thing)
}

func stale(thing string) error {
	return inventory.Errorf(inventory.Stale, "the %s changed since it was looked at; look again and repeat the change",
		thing)
}
