// Package group has the writers of one SQLite file share transactions, and with them the sync that makes what they
// wrote last: each works in a savepoint of its own, one after the other, and all are answered once it is committed.
package group

import (
	"context"
	"database/sql"
	"sync/atomic"
	"time"
)

// How many share a transaction, and how long the first of them waits for more, at most.
const (
	mostMembers = 64
	longest     = 20 * time.Millisecond
)

// Queue is the writers of one file. Who has the turn works on it, and ends what is shared where nobody waits.
type Queue struct {
	pool    *sql.DB // of one connection
	turn    chan struct{}
	waiting atomic.Int32
	open    *shared // whose turn it is sees to it

	syncs, members atomic.Int64
}

// shared is one transaction.
type shared struct {
	tx      *sql.Tx
	began   time.Time
	members int
	over    chan struct{}
	err     error // of its end, once it is over
}

// Member is one writer's part of a transaction. Its end waits for the end of the whole: also one who leaves nothing has
// seen what others wrote.
type Member struct {
	*shared
	queue *Queue
	asks  context.Context
	alone bool
	first bool // so that all there is to undo is its own
}

// New returns the queue of a pool that opens one connection.
func New(pool *sql.DB) *Queue { return &Queue{pool: pool, turn: make(chan struct{}, 1)} }

// Begin waits for its turn. What runs alone shares with nobody: it takes long, or reads what it has written in other
// ways. A context that ends later undoes this member only, when it ends.
func (q *Queue) Begin(ctx context.Context, alone bool) (*Member, error) {
	q.waiting.Add(1)
	select {
	case q.turn <- struct{}{}:
		q.waiting.Add(-1)
	case <-ctx.Done():
		if q.waiting.Add(-1) == 0 { // they who are done may have waited for it
			go q.settle()
		}
		return nil, ctx.Err()
	}
	if q.open != nil && alone {
		q.end()
	}
	m := &Member{queue: q, asks: ctx, alone: alone, first: q.open == nil}
	if m.first {
		// not of a member's context: when that ends, the others go on
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

// Tx is the transaction, for statements of a context that does not end within it: SQLite undoes all of it where it is
// interrupted.
func (m *Member) Tx() *sql.Tx { return m.tx }

func (m *Member) run(text string) error {
	if m.first {
		return nil
	}
	_, err := m.tx.ExecContext(context.WithoutCancel(m.asks), text)
	return err
}

// Commit waits until what the member wrote is on the disk. One whose request has ended leaves nothing.
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

// Rollback undoes what the member wrote. An error is of the whole: nothing that it saw is to be relied on.
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

// leave gives the turn on, or ends the transaction, and waits for its end.
func (m *Member) leave() error {
	m.members++
	q := m.queue
	if m.alone || q.waiting.Load() == 0 || m.members == mostMembers || time.Since(m.began) > longest {
		q.end()
	}
	<-q.turn
	<-m.over
	return m.err
}

// breakOff ends a transaction of which nothing is to last: its first member's work, or all that the engine has undone,
// as it does when its disk fails.
func (m *Member) breakOff(err error) error {
	if back := m.tx.Rollback(); m.first {
		err = back
	}
	m.queue.over(err)
	<-m.queue.turn
	return err
}

func (q *Queue) end() {
	q.syncs.Add(1)
	q.members.Add(int64(q.open.members))
	q.over(q.open.tx.Commit())
}

func (q *Queue) over(err error) {
	q.open.err = err
	close(q.open.over)
	q.open = nil
}

// settle ends what is open where nobody is left to do it.
func (q *Queue) settle() {
	q.turn <- struct{}{}
	if q.open != nil && q.waiting.Load() == 0 {
		q.end()
	}
	<-q.turn
}

// Waiting tells how many wait for their turn.
func (q *Queue) Waiting() int { return int(q.waiting.Load()) }

// Counts tells how many units of work were ended, by how many syncs.
func (q *Queue) Counts() (members, syncs int64) { return q.members.Load(), q.syncs.Load() }
