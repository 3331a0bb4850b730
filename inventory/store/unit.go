package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"time"

	"gorm.io/gorm"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/store/fault"
	"stowkeeper/inventory/store/judged"
	"stowkeeper/inventory/store/trial"
)

// unit is one unit of work: a transaction, with gorm and plain SQL on it. It serves one goroutine.
type unit struct {
	s   *database
	ctx context.Context // carries the unit, so that others can join
	tx  *sql.Tx
	end interface { // of the transaction, or of this unit's part of it
		Commit() error
		Rollback() error
	}
	write bool
	depth int // of savepoints
	held  locks
	want  locks // what this try and those before it have locked
	seen  map[any]any

	failed error // of what fails all of it

	judged.Conn                   // to what bags were judged to be
	touched     judged.Touched    // of that
	log         []noted           // what goes into the chains at its end
	late        bool              // it is about rows from before the chains
	heads       map[string]heads  // of stations that are locked, as they will be
	owners      map[string]string // by code of a place, the station that it belongs to
	names       map[string]int64  // numbers of people that it is the first to write
}

// reader and writer are what a unit of work's function is given.
type (
	reader struct{ *unit }
	writer struct{ reader }
)

// unitKey finds the unit of work of one store in a context.
type unitKey struct{ s *database }

// reading is what a Read is given, alone or within another unit of work.
func (u *unit) reading() inventory.Reader {
	if u.write {
		return reader{u}
	}
	return recalling{reader{u}, u.seen}
}

func (s *database) joined(ctx context.Context) *unit {
	u, _ := ctx.Value(unitKey{s}).(*unit)
	return u
}

// Tx is the transaction of the snapshot or unit of work that a context is in, for who carries rows as they are: what is
// written by it is in no chain but by entries that come with it. nil outside of one.
func Tx(ctx context.Context) *sql.Tx {
	tx, _ := ctx.Value(txKey{}).(*sql.Tx)
	return tx
}

type txKey struct{}

// Read runs fn on one read-only snapshot: the request's, where it only looks.
func (s *database) Read(ctx context.Context, fn func(ctx context.Context, r inventory.Reader) error) error {
	if u := s.joined(ctx); u != nil {
		return fn(ctx, u.reading())
	}
	if look, _ := inventory.OnlyLooks(ctx); look != nil {
		return s.look(ctx, look, fn)
	}
	u, err := s.begin(ctx, s.reads, s.readOnly())
	if err != nil {
		return err
	}
	return u.run(func() error { return fn(u.ctx, u.reading()) })
}

// look runs fn on the snapshot that a request shares. PostgreSQL answers nothing
// after a statement that failed, so the next Read then sees another.
func (s *database) look(ctx context.Context, look *inventory.Snapshot,
	fn func(ctx context.Context, r inventory.Reader) error) error {
	u, open := look.Of.(*unit)
	if !open || u.s != s {
		look.Drop()
		var err error
		if u, err = s.begin(look.Context, s.reads, s.readOnly()); err != nil {
			return err
		}
		look.Of, look.Close = u, func() { _ = u.tx.Rollback() }
	}
	err := fn(context.WithValue(context.WithValue(ctx, unitKey{s}, u), txKey{}, u.tx), u.reading())
	if kind := inventory.KindOf(err); kind == inventory.Internal || kind == inventory.Unavailable {
		look.Drop()
	}
	return err
}

func (s *database) readOnly() *sql.TxOptions {
	if s.engine == Postgres {
		return &sql.TxOptions{ReadOnly: true, Isolation: sql.LevelRepeatableRead}
	}
	return &sql.TxOptions{ReadOnly: true}
}

// Write runs fn in one unit of work, and again where it lost a race or, before its commit, the connection.
func (s *database) Write(ctx context.Context, fn func(ctx context.Context, w inventory.Writer) error) error {
	if _, only := inventory.OnlyLooks(ctx); only {
		return errors.New("a request that only looks cannot write")
	}
	if u := s.joined(ctx); u != nil {
		if !u.write {
			return errors.New("a unit of work that only reads cannot be joined for writing")
		}
		inner := func() error { return fn(ctx, writer{reader{u}}) }
		if u.depth == 0 && inventory.FailsWhole(ctx) {
			u.depth++
			defer func() { u.depth-- }()
			err := inner()
			u.failed = cmp.Or(u.failed, err)
			return err
		}
		return u.whole(inner)
	}
	want, began := newLocks(), time.Now()
	for try := 0; ; try++ {
		err := s.writeOnce(ctx, want, fn)
		race := try < fault.MaxRetries && fault.Of(err) == fault.Race
		if inventory.KindOf(err) == inventory.InDoubt || !race && !s.awaits(err, began) {
			return failure("write", "", err)
		}
		if err := fault.Pause(ctx, try); err != nil {
			return err
		}
	}
}

// patience is how long what is not lost with its connection is tried again: about as long as another server takes over.
const patience = 10 * time.Second

// awaits tells whether something that began at a time and had no effect is to wait for a server, and to be tried again.
func (s *database) awaits(err error, began time.Time) bool {
	return s.engine == Postgres && fault.Of(err) == fault.Busy && time.Since(began) < patience
}

// writeOnce tries fn in one unit of work. want is what the tries before this one turned out to lock.
func (s *database) writeOnce(ctx context.Context, want locks, fn func(context.Context, inventory.Writer) error) error {
	u, err := s.beginWrite(ctx)
	if err != nil {
		return err
	}
	u.write, u.want = true, want
	w := writer{reader{u}}
	return u.run(func() error {
		if err := w.lockWanted(); err != nil { // nothing in the first try
			return err
		}
		return firstError(func() error { return fn(u.ctx, w) }, func() error { return u.failed }, w.enter)
	})
}

// beginWrite begins a unit of work that writes: on SQLite within a transaction that several share, and which none of
// their contexts may cut off.
func (s *database) beginWrite(ctx context.Context) (*unit, error) {
	if s.engine == Postgres {
		return s.begin(ctx, s.writes, &sql.TxOptions{})
	}
	if err := s.files.Swapped(); err != nil {
		return nil, err
	}
	m, err := s.queue.Begin(ctx, inventory.RunsAlone(ctx))
	if err != nil {
		return nil, failure("begin", "", err)
	}
	u := s.unit(context.WithoutCancel(ctx), m.Tx())
	u.end = m
	return u, nil
}

func (s *database) begin(ctx context.Context, pool *sql.DB, opts *sql.TxOptions) (*unit, error) {
	if err := s.files.Swapped(); err != nil {
		return nil, err
	}
	began := time.Now()
	for try := 0; ; try++ {
		tx, err := pool.BeginTx(ctx, opts)
		if err == nil {
			return s.unit(ctx, tx), nil
		}
		if !s.awaits(err, began) || fault.Pause(ctx, try) != nil {
			return nil, failure("begin", "", err)
		}
	}
}

func (s *database) unit(ctx context.Context, tx *sql.Tx) *unit {
	u := &unit{s: s, tx: tx, end: tx, held: newLocks(), seen: map[any]any{}, heads: map[string]heads{},
		owners: map[string]string{}, names: map[string]int64{}}
	u.ctx = context.WithValue(context.WithValue(ctx, txKey{}, tx), unitKey{s}, u)
	u.Conn = judged.Conn{Each: u.each, Exec: u.quietly, Locks: s.engine == Postgres}
	return u
}

var errTried = errors.New("it was only tried")

// Try runs fn on a copy of the database, and keeps nothing of it.
func (s *database) Try(ctx context.Context, fn func(ctx context.Context, w inventory.Writer) error) error {
	tried := func() error { return errTried }
	if s.joined(ctx) != nil {
		return unlessTried(s.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
			return firstError(func() error { return fn(ctx, w) }, tried)
		}))
	}
	tx, end, err := trial.Begin(ctx, s.reads, s.driver)
	if err != nil {
		return failure("try", "", err)
	}
	u := s.unit(ctx, tx)
	u.write = true
	w := writer{reader{u}}
	err = u.run(func() error {
		return firstError(func() error { return fn(u.ctx, w) }, w.enter, tried)
	})
	return failure("try", "", cmp.Or(unlessTried(err), end()))
}

// unlessTried returns an error that it was not only tried: as it is, what was rolled back well.
func unlessTried(err error) error {
	if err == errTried {
		return nil
	}
	return err
}

// run runs fn and ends the unit: an error or a panic rolls it back, and an error of the commit counts.
func (u *unit) run(fn func() error) (err error) {
	done := false
	defer func() {
		if !done { // fn failed or panicked
			err = fault.AndRollback(err, failure("rollback", "", u.end.Rollback()))
		}
	}()
	if err := fn(); err != nil {
		return err
	}
	done = true
	err = u.end.Commit()
	if errors.Is(err, sql.ErrTxDone) && u.ctx.Err() != nil {
		err = u.ctx.Err() // database/sql rolled it back when the context ended, and was quicker
	}
	if u.write && u.s.engine == Postgres && fault.InDoubt(err) {
		return &inventory.Error{Kind: inventory.InDoubt, Message: message.M("not known yet"), Cause: err}
	}
	if err != nil {
		return failure("commit", "", err)
	}
	for name, number := range u.names {
		u.s.numbers.Store(name, number)
	}
	return nil
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
	held, before := u.held.clone(), *u
	before.heads, before.names = maps.Clone(u.heads), maps.Clone(u.names)
	if err := fn(); err != nil {
		u.held = held // what was locked since is let go
		u.log, u.heads, u.names = before.log, before.heads, before.names
		_, back := u.tx.ExecContext(u.ctx, "ROLLBACK TO SAVEPOINT "+name)
		return fault.AndRollback(err, back)
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

// single is a writing method of one statement. Where one fails SQLite has changed
// nothing and goes on, so that only PostgreSQL needs a step.
func (w writer) single(op, taken string, fn func() error) error {
	if w.s.engine == SQLite {
		return failure(op, taken, fn())
	}
	return w.step(op, taken, fn)
}

// add inserts one row.
func (w writer) add(op, taken string, row any) error {
	return w.single(op, taken, func() error { return w.insert(row) })
}

// do runs one statement.
func (w writer) do(op, taken, text string, args ...any) error {
	return w.single(op, taken, func() error {
		_, err := w.exec(text, args...)
		return err
	})
}

// set runs one statement that must change a row, and notes it. thing is what is not there otherwise.
func (w writer) set(op, thing, text string, args ...any) error {
	return w.single(op, "", func() error { return w.mustExec(thing, text, args...) })
}

// touch is set for what is no fact, or follows from others.
func (w writer) touch(op, thing, text string, args ...any) error {
	return w.single(op, "", func() error {
		n, err := w.quietly(text, args...)
		return some(n, err, thing)
	})
}

// mustExec runs a statement that must change a row, within a step.
func (w writer) mustExec(thing, text string, args ...any) error {
	n, err := w.exec(text, args...)
	return some(n, err, thing)
}

// some is what a statement that changed n things says, of which there must be some.
func some(n int64, err error, thing string) error {
	if err == nil && n == 0 {
		return notFound(thing)
	}
	return err
}

// change runs a change, and returns the thing as it is then.
func change[T any](w writer, op string, do func() error, read func() (T, error)) (out T, err error) {
	err = w.single(op, "", func() error {
		if err := do(); err != nil {
			return err
		}
		out, err = read()
		return err
	})
	return out, err
}

// gorm returns gorm on the unit's transaction, without conditions.
func (u *unit) gorm() *gorm.DB {
	g := u.s.gorm.Session(&gorm.Session{NewDB: true, Context: u.ctx})
	g.Statement.ConnPool = u.tx
	return g
}
