// Package prepared is the driver of SQLite with its statements kept: each connection parses a text once and runs it
// many times, though its callers ask by text.
package prepared

import (
	"container/list"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"strings"

	"modernc.org/sqlite"
)

// Driver is its name for database/sql. The connection string is that of modernc.org/sqlite.
const Driver = "sqlite, prepared"

// Most is how many statements a connection keeps, the last used ones. Text that is longer than LongestText stands for
// a list of many values and hardly comes again.
const (
	Most        = 250
	LongestText = 5000
)

func init() { sql.Register(Driver, keeping{&sqlite.Driver{}}) }

type keeping struct{ driver.Driver }

func (d keeping) Open(name string) (driver.Conn, error) {
	c, err := d.Driver.Open(name)
	if err != nil {
		return nil, err
	}
	return &conn{engine: c.(engine), free: map[string]*list.Element{}, used: list.New()}, nil
}

// engine is what every connection of the driver beneath can do.
type engine interface {
	driver.Conn
	driver.ConnPrepareContext
	driver.ConnBeginTx
	driver.ExecerContext
	driver.QueryerContext
	driver.Pinger
	driver.SessionResetter
	driver.Validator
}

// conn is used by one caller at a time, as database/sql promises, though rows of one statement may be open while
// another runs. A statement that runs is not among the free ones.
type conn struct {
	engine
	free map[string]*list.Element
	used *list.List // of *stmt, the one used last in front
}

type stmt struct {
	driver.Stmt
	text string
}

// keeps tells whether text is worth keeping. PRAGMA does part of its work when it is parsed, and scripts are parsed
// statement by statement.
func keeps(text string) bool {
	if len(text) > LongestText || strings.Contains(strings.TrimRight(text, "; \n"), ";") {
		return false
	}
	word, _, _ := strings.Cut(strings.TrimSpace(text), " ")
	switch strings.ToUpper(word) {
	case "SELECT", "INSERT", "UPDATE", "DELETE", "WITH":
		return true
	}
	return false
}

func (c *conn) take(ctx context.Context, text string) (*stmt, error) {
	if e := c.free[text]; e != nil {
		delete(c.free, text)
		return c.used.Remove(e).(*stmt), nil
	}
	s, err := c.PrepareContext(ctx, text)
	return &stmt{s, text}, err
}

// keep takes a statement back that has run. Two of one text may have run at once: one is enough.
func (c *conn) keep(s *stmt) error {
	if c.free[s.text] != nil {
		return s.Close()
	}
	c.free[s.text] = c.used.PushFront(s)
	if c.used.Len() <= Most {
		return nil
	}
	oldest := c.used.Remove(c.used.Back()).(*stmt)
	delete(c.free, oldest.text)
	return oldest.Close()
}

// Close also closes what was kept.
func (c *conn) Close() error {
	var errs []error
	for e := c.used.Front(); e != nil; e = e.Next() {
		errs = append(errs, e.Value.(*stmt).Close())
	}
	return errors.Join(append(errs, c.engine.Close())...)
}

func (c *conn) ExecContext(ctx context.Context, text string, args []driver.NamedValue) (driver.Result, error) {
	if !keeps(text) {
		return c.engine.ExecContext(ctx, text, args)
	}
	s, err := c.take(ctx, text)
	if err != nil {
		return nil, err
	}
	r, err := s.Stmt.(driver.StmtExecContext).ExecContext(ctx, args)
	if err != nil { // an interrupted one is not used again
		_ = s.Close() // which would say the same again
		return nil, err
	}
	return r, c.keep(s)
}

func (c *conn) QueryContext(ctx context.Context, text string, args []driver.NamedValue) (driver.Rows, error) {
	if !keeps(text) {
		return c.engine.QueryContext(ctx, text, args)
	}
	s, err := c.take(ctx, text)
	if err != nil {
		return nil, err
	}
	r, err := s.Stmt.(driver.StmtQueryContext).QueryContext(ctx, args)
	if err != nil {
		_ = s.Close() // which would say the same again
		return nil, err
	}
	return &rows{r, c, s}, nil
}

// rows are of a statement that is free again when they are closed.
type rows struct {
	driver.Rows
	conn *conn
	of   *stmt
}

func (r *rows) Close() error {
	if r.of == nil {
		return nil
	}
	s := r.of
	r.of = nil
	if err := r.Rows.Close(); err != nil {
		_ = s.Close()
		return err
	}
	return r.conn.keep(s)
}
