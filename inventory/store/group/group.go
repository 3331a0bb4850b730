// Package group lets several writers of one SQLite file share a transaction, since each commit costs a sync to disk.
// Writers take turns. Each works in a savepoint of its own, so that one can be undone without the others. Commit and
// Rollback return when the shared transaction has been committed.
package group

import (
	"context"
	"database/sql"
	"sync/atomic"
	"time"
)

// mostMembers is how many writers share a transaction at most.
const mostMembers = 64

// Queue lets the writers of one file take turns.
type Queue struct {
	pool    *sql.DB       // of one connection
	turn    chan struct{} // holds one value while a writer has the turn
	waiting atomic.Int32  // writers waiting for the turn
	open    *shared       // the current transaction, nil for none; only the writer with the turn may touch it
	longest time.Duration // after this time a transaction takes no further writers, so that the first is not kept waiting
}

// shared is one transaction with all its writers.
type shared struct {
	tx      *sql.Tx
	began   time.Time
	members int           // writers that are done
	over    chan struct{} // closed when it has ended
	err     error         // of its commit; set before over is closed
}

// Member is one writer in a transaction. Even a writer that is rolled back waits for the commit: it has read what the
// writers before it wrote, and its answer is only true if that lasts.
type Member struct {
	*shared
	queue *Queue
	asks  context.Context // of the request
	alone bool
	first bool // it began the transaction, and works without a savepoint: its rollback undoes the transaction
}

// New returns the queue of a pool that opens one connection.
func New(pool *sql.DB) *Queue {
	return &Queue{pool: pool, turn: make(chan struct{}, 1), longest: 20 * time.Millisecond}
}

// Begin waits for the turn. A writer that is alone shares its transaction with nobody: use it for work that takes long,
// or that reads the file through other connections. When ctx ends later, Commit undoes this writer only.
func (q *Queue) Begin(ctx context.Context, alone bool) (*Member, error) {
	q.waiting.Add(1)
	select {
	case q.turn <- struct{}{}:
		q.waiting.Add(-1)
	case <-ctx.Done():
		if q.waiting.Add(-1) == 0 { // the transaction may have been left open for this writer
			go q.settle()
		}
		return nil, ctx.Err()
	}
	if q.open != nil && alone {
		q.end()
	}
	m := &Member{queue: q, asks: ctx, alone: alone, first: q.open == nil}
	if m.first {
		// when the context of one writer ends, the others go on
		tx, err := q.pool.BeginTx(context.WithoutCancel(ctx), nil)
		if err != nil {
			<-q.turn
			return nil, err
		}
		q.open = &shared{tx: tx, began: time.Now(), over: make(chan struct{})}
	}
	m.shared = q.open
	if err := m.run("SAVEPOINT member"); err != nil {
		return nil, m.breakOff(err)
	}
	return m, nil
}

// Tx is the shared transaction. Give its statements a context that does not end: when SQLite interrupts a statement, it
// undoes the whole transaction.
func (m *Member) Tx() *sql.Tx { return m.tx }

// run runs a statement about the writer's savepoint, where it has one.
func (m *Member) run(text string) error {
	if m.first {
		return nil
	}
	_, err := m.tx.ExecContext(context.WithoutCancel(m.asks), text)
	return err
}

// Commit returns when what the member wrote is on the disk. If its request has ended, the member is rolled back.
func (m *Member) Commit() error {
	if err := m.asks.Err(); err != nil {
		if back := m.Rollback(); back != nil {
			return back
		}
		return err
	}
	if err := m.run("RELEASE member"); err != nil {
		return m.breakOff(err)
	}
	return m.leave()
}

// Rollback undoes what the member wrote. An error means that the whole transaction failed, so that nothing the member
// read in it can be relied on.
func (m *Member) Rollback() error {
	if m.first {
		return m.breakOff(nil)
	}
	for _, text := range []string{"ROLLBACK TO member", "RELEASE member"} {
		if err := m.run(text); err != nil {
			return m.breakOff(err)
		}
	}
	return m.leave()
}

// leave commits the transaction if no further writer should join it, passes on the turn, and waits for the commit.
func (m *Member) leave() error {
	m.members++
	q := m.queue
	if m.alone || q.waiting.Load() == 0 || m.members == mostMembers || time.Since(m.began) > q.longest {
		q.end()
	}
	<-q.turn
	<-m.over
	return m.err
}

// breakOff rolls the whole transaction back: because its first member is rolled back, or because the engine has undone
// it already, as it does when the disk fails.
func (m *Member) breakOff(err error) error {
	if back := m.tx.Rollback(); m.first {
		err = back
	}
	m.queue.over(err)
	<-m.queue.turn
	return err
}

// end commits the open transaction.
func (q *Queue) end() { q.over(q.open.tx.Commit()) }

// over tells all members of the open transaction how it ended.
func (q *Queue) over(err error) {
	q.open.err = err
	close(q.open.over)
	q.open = nil
}

// settle commits the open transaction, if no writer is left that will.
func (q *Queue) settle() {
	q.turn <- struct{}{}
	if q.open != nil && q.waiting.Load() == 0 {
		q.end()
	}
	<-q.turn
}
