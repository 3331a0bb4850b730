package store

import (
	"context"
	"errors"

	"gorm.io/gorm"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/fact"
	"stowkeeper/inventory/store/migrations"
)

// lateAtOnce is how many rows one entry tells of that are entered late.
const lateAtOnce = 200

// prepareChains learns what is a fact, and enters what was there before its
// chain, once. PostgreSQL's copies of the program take turns.
func (s *database) prepareChains(ctx context.Context) error {
	if err := s.readSchema(ctx); err != nil {
		return failure("read the schema", "", err)
	}
	stmt := &gorm.Statement{DB: s.gorm}
	if err := stmt.Parse(historyEntryRow{}); err != nil {
		return err
	}
	s.history = stmt.Schema
	if s.entering {
		if err := s.alone(ctx, s.enterLate); err != nil {
			return failure("enter what was there before the chains", "", err)
		}
	}
	return s.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		actors, err := r.Actors()
		for name, number := range actors {
			s.numbers.Store(name, number)
		}
		return err
	})
}

// alone runs a step that no other copy of the program runs at the time.
func (s *database) alone(ctx context.Context, step func(context.Context) error) error {
	if s.engine == SQLite {
		return step(ctx)
	}
	conn, err := s.writes.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "SELECT pg_advisory_lock($1)", migrations.Lock+1); err != nil {
		return err
	}
	err = step(ctx)
	_, unlock := conn.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", migrations.Lock+1)
	return errors.Join(err, unlock)
}

// enterLate enters what is in no chain: of each station the movements, by their
// number and the head of their own chain, then every other row as it is. It can
// be broken off and run again, since it leaves out what was entered before.
func (s *database) enterLate(ctx context.Context) error {
	l := &late{s: s, ctx: ctx, entered: map[[2]string]bool{}}
	err := s.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		return firstError(func() error {
			return r.ChainEntries(inventory.ChainFilter{}, func(e inventory.ChainEntry) error {
				for _, f := range e.Facts {
					l.entered[[2]string{f.Table, f.Key}] = true
				}
				return nil
			})
		}, func() error { return l.movements(r) },
			func() error { return r.(recalling).eachFact(l.fact) }, l.flush)
	})
	if err != nil {
		return err
	}
	_, err = s.writes.ExecContext(ctx, "DROP TABLE IF EXISTS entering")
	return err
}

// late is a run of that step.
type late struct {
	s       *database
	ctx     context.Context
	entered map[[2]string]bool // by table and key
	waiting []func(u *unit) error
}

func (l *late) movements(r inventory.Reader) error {
	stations, err := r.Stations()
	for _, station := range stations {
		if err != nil {
			break
		}
		var h inventory.Head
		if h, err = r.Head(station.Code); err == nil && h.Seq > 0 {
			n := noted{table: &fact.Table{Name: inventory.LateMovements}, key: inventory.ListForm(h.Station),
				station: h.Station, said: inventory.FixedForm(inventory.Form([]string{"hash", "seq"}, []any{h.Hash, h.Seq}))}
			err = l.enter(n.table.Name, n.key, func(u *unit) error {
				u.log = append(u.log, n)
				return nil
			})
		}
	}
	return err
}

func (l *late) fact(t *fact.Table, row map[string]any, f inventory.Fact) error {
	if t.Name == "movement" || t.Name == "balance" {
		return nil
	}
	return l.enter(f.Table, f.Key, func(u *unit) error { return u.note(t, row, false) })
}

// enter enters a row by a function that notes it, many at a time.
func (l *late) enter(table, key string, note func(u *unit) error) error {
	if l.entered[[2]string{table, key}] {
		return nil
	}
	if l.waiting = append(l.waiting, note); len(l.waiting) < lateAtOnce {
		return nil
	}
	return l.flush()
}

func (l *late) flush() error {
	return l.s.Write(l.ctx, func(_ context.Context, w inventory.Writer) error {
		u := w.(writer).unit
		u.late = true
		for _, note := range l.waiting {
			if err := note(u); err != nil {
				return err
			}
		}
		l.waiting = nil
		return nil
	})
}
