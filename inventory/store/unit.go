package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"gorm.io/gorm"

	"stowkeeper/inventory"
)

// unit is one unit of work: a transaction, with gorm and plain SQL on it. It
// serves one goroutine.
type unit struct {
	s     *database
	ctx   context.Context // carries the unit, so that others can join
	tx    *sql.Tx
	write bool
	depth int // of savepoints
	held  locks
	want  wanted // what this try and those before it have locked
}

// reader and writer are what a unit of work's function is given.
type (
	reader struct{ *unit }
	writer struct{ reader }
)

// unitKey finds the unit of work of one store in a context.
type unitKey struct{ s *database }

func (s *database) joined(ctx context.Context) *unit {
	u, _ := ctx.Value(unitKey{s}).(*unit)
	return u
}

// Read runs fn on one read-only snapshot.
func (s *database) Read(ctx context.Context, fn func(ctx context.Context, r inventory.Reader) error) error {
	if u := s.joined(ctx); u != nil {
		return fn(ctx, reader{u})
	}
	opts := &sql.TxOptions{ReadOnly: true}
	if s.engine == Postgres {
		opts.Isolation = sql.LevelRepeatableRead
	}
	return s.run(ctx, s.reads, opts, func(u *unit) error { return fn(u.ctx, reader{u}) })
}

// Write runs fn in one unit of work, and again where it lost a race.
func (s *database) Write(ctx context.Context, fn func(ctx context.Context, w inventory.Writer) error) error {
	if u := s.joined(ctx); u != nil {
		if !u.write {
			return errors.New("a unit of work that only reads cannot be joined for writing")
		}
		return u.whole(func() error { return fn(ctx, writer{reader{u}}) })
	}
	want := newWanted()
	for try := 0; ; try++ {
		err := s.run(ctx, s.writes, &sql.TxOptions{}, func(u *unit) error {
			u.write, u.want = true, want
			w := writer{reader{u}}
			if err := w.lockWanted(); err != nil { // nothing in the first try
				return err
			}
			return fn(u.ctx, w)
		})
		if try == maxRetries || faultOf(err) != faultRace {
			return failure("write", "", err)
		}
		if err := pause(ctx, try); err != nil {
			return err
		}
	}
}

const maxRetries = 6

// pause waits 5 to 10 milliseconds, and twice as long with each try.
func pause(ctx context.Context, try int) error {
	base := 5 * time.Millisecond << try
	select {
	case <-time.After(base + rand.N(base)):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// run runs fn in a transaction: an error or a panic rolls it back, and an
// error of the commit counts.
func (s *database) run(ctx context.Context, pool *sql.DB, opts *sql.TxOptions, fn func(*unit) error) (err error) {
	tx, err := pool.BeginTx(ctx, opts)
	if err != nil {
		return failure("begin", "", err)
	}
	done := false
	defer func() {
		if !done { // fn failed or panicked
			err = withRollback(err, tx.Rollback())
		}
	}()
	u := &unit{s: s, tx: tx}
	u.ctx = context.WithValue(ctx, unitKey{s}, u)
	if err := fn(u); err != nil {
		return err
	}
	done = true
	err = tx.Commit()
	if errors.Is(err, sql.ErrTxDone) && ctx.Err() != nil {
		err = ctx.Err() // database/sql rolled it back when the context ended, and was quicker
	}
	if err != nil {
		return failure("commit", "", err)
	}
	return nil
}

// withRollback adds what went wrong with the rollback, save that there was
// nothing left to roll back.
func withRollback(err, rollback error) error {
	if rollback == nil || errors.Is(rollback, sql.ErrTxDone) || err == nil {
		return err
	}
	return fmt.Errorf("%w (and the rollback failed: %w)", err, rollback)
}

// whole runs fn so that all of it happens or none, within a unit that can go
// on after an error. PostgreSQL would refuse every further statement without it.
func (u *unit) whole(fn func() error) error {
	u.depth++
	defer func() { u.depth-- }()
	name := fmt.Sprintf("step_%d", u.depth)
	if _, err := u.tx.ExecContext(u.ctx, "SAVEPOINT "+name); err != nil {
		return failure("begin a step", "", err)
	}
	held := u.held.clone()
	if err := fn(); err != nil {
		u.held = held // what was locked since is let go
		_, back := u.tx.ExecContext(u.ctx, "ROLLBACK TO SAVEPOINT "+name)
		return withRollback(err, back)
	}
	if _, err := u.tx.ExecContext(u.ctx, "RELEASE SAVEPOINT "+name); err != nil {
		return failure("end a step", "", err)
	}
	return nil
}

// step is one writing method: whole or not at all, with its errors turned
// into kinds. taken is what people are told when a key is taken.
func (w writer) step(op, taken string, fn func() error) error {
	return w.whole(func() error { return failure(op, taken, fn()) })
}

// gorm returns gorm on the unit's transaction, without conditions.
func (u *unit) gorm() *gorm.DB {
	g := u.s.gorm.Session(&gorm.Session{NewDB: true, Context: u.ctx})
	g.Statement.ConnPool = u.tx
	return g
}
