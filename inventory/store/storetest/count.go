package storetest

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store/prepared"
)

// Counts is what SQLite was asked since the test began to count: statements, those that begin, keep or undo a step of
// a unit of work included, and transactions. A transaction's own beginning and end are no statements.
type Counts struct{ Statements, Reads, Writes int64 }

// Since returns what was asked after an earlier count.
func (c Counts) Since(before Counts) Counts {
	return Counts{c.Statements - before.Statements, c.Reads - before.Reads, c.Writes - before.Writes}
}

var asked struct{ statements, reads, writes atomic.Int64 }

// Counted returns what was asked so far.
func Counted() Counts {
	return Counts{asked.statements.Load(), asked.reads.Load(), asked.writes.Load()}
}

// Counting returns a driver of SQLite, for store.Options, that counts what is asked through it. The count is one for
// all, so it does not go with parallel tests.
func Counting(t testing.TB) (driver string) {
	t.Helper()
	require.NoError(t, registerCounting())
	return counted
}

const counted = "sqlite that counts"

var registerCounting = sync.OnceValue(func() error {
	db, err := sql.Open(prepared.Driver, "")
	if err != nil {
		return err
	}
	sql.Register(counted, counting{db.Driver()})
	return db.Close()
})

// counting is the SQLite driver with counters in front.
type counting struct{ driver.Driver }

func (d counting) Open(name string) (driver.Conn, error) {
	c, err := d.Driver.Open(name)
	return countingConn{c}, err
}

type countingConn struct{ driver.Conn }

func (c countingConn) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	asked.statements.Add(1)
	return c.Conn.(driver.QueryerContext).QueryContext(ctx, q, args)
}

func (c countingConn) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	asked.statements.Add(1)
	return c.Conn.(driver.ExecerContext).ExecContext(ctx, q, args)
}

func (c countingConn) PrepareContext(ctx context.Context, q string) (driver.Stmt, error) {
	asked.statements.Add(1)
	return c.Conn.(driver.ConnPrepareContext).PrepareContext(ctx, q)
}

func (c countingConn) BeginTx(ctx context.Context, opts driver.TxOptions) (driver.Tx, error) {
	if opts.ReadOnly {
		asked.reads.Add(1)
	} else {
		asked.writes.Add(1)
	}
	return c.Conn.(driver.ConnBeginTx).BeginTx(ctx, opts)
}
