package group_test

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"modernc.org/sqlite"

	"stowkeeper/inventory/store/group"
)

// The driver of a disk that may fail at a sync.
const failing = "sqlite, whose disk fails"

var (
	errDisk  = errors.New("disk")
	diskGone atomic.Bool
	commits  atomic.Int64
)

func init() { sql.Register(failing, disk{&sqlite.Driver{}}) }

type (
	disk     struct{ driver.Driver }
	diskConn struct {
		driver.Conn
		driver.ExecerContext
		driver.QueryerContext
		begin driver.ConnBeginTx
	}
	diskTx struct{ driver.Tx }
)

func (d disk) Open(name string) (driver.Conn, error) {
	c, err := d.Driver.Open(name)
	if err != nil {
		return nil, err
	}
	return diskConn{c, c.(driver.ExecerContext), c.(driver.QueryerContext), c.(driver.ConnBeginTx)}, nil
}

func (c diskConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	tx, err := c.begin.BeginTx(ctx, o)
	return diskTx{tx}, err
}

func (t diskTx) Commit() error {
	commits.Add(1)
	if diskGone.Load() {
		return errors.Join(errDisk, t.Rollback())
	}
	return t.Tx.Commit()
}

// writers are who writes names into one table.
type writers struct {
	*testing.T
	*group.Queue
	reads *sql.DB
}

func newWriters(t *testing.T) *writers {
	name := "file:" + filepath.ToSlash(filepath.Join(t.TempDir(), "a.db")) + "?_pragma=journal_mode(WAL)&_txlock=immediate"
	pool, err := sql.Open(failing, name)
	require.NoError(t, err)
	pool.SetMaxOpenConns(1)
	_, err = pool.ExecContext(t.Context(), "CREATE TABLE a (name TEXT PRIMARY KEY)")
	require.NoError(t, err)
	reads, err := sql.Open("sqlite", name)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, errors.Join(pool.Close(), reads.Close())) })
	commits.Store(0)
	w := &writers{t, group.New(pool), reads}
	w.WaitAtMost(time.Hour)
	return w
}

func (w *writers) write(m *group.Member, name string) error {
	_, err := m.Tx().ExecContext(context.Background(), "INSERT INTO a (name) VALUES (?)", name)
	return err
}

func (w *writers) begin(alone bool) *group.Member {
	m, err := w.Begin(w.Context(), alone)
	require.NoError(w, err)
	return m
}

// there is who others see.
func (w *writers) there() (names []string) {
	rows, err := w.reads.QueryContext(context.Background(), "SELECT name FROM a ORDER BY name")
	require.NoError(w, err)
	defer rows.Close()
	for rows.Next() {
		var name string
		require.NoError(w, rows.Scan(&name))
		names = append(names, name)
	}
	require.NoError(w, rows.Err())
	return names
}

// behind has some work begin while the turn is another's, and returns once all of them wait.
func (w *writers) behind(work ...func()) (all *sync.WaitGroup) {
	all = &sync.WaitGroup{}
	for _, do := range work {
		all.Go(do)
	}
	require.Eventually(w, func() bool { return w.Waiting() == len(work) }, 10*time.Second, time.Millisecond)
	return all
}

// TestOneSyncForMany: who came while another worked is written by one sync with it. Each is answered only when others
// see what it wrote; who was refused, or panicked, or whose request ended leaves nothing and takes nobody with it.
func TestOneSyncForMany(t *testing.T) {
	w := newWriters(t)
	first := w.begin(false)
	require.NoError(t, w.write(first, "first"))
	cut, cancel := context.WithCancel(t.Context())
	all := w.behind(func() {
		m := w.begin(false)
		assert.NoError(t, w.write(m, "second"))
		assert.NoError(t, m.Commit())
		assert.Contains(t, w.there(), "second")
	}, func() {
		m := w.begin(false)
		assert.NoError(t, w.write(m, "refused"))
		assert.NoError(t, m.Rollback())
	}, func() {
		defer func() { assert.NotNil(t, recover()) }()
		m := w.begin(false)
		defer func() { assert.NoError(t, m.Rollback()) }()
		assert.NoError(t, w.write(m, "panicked"))
		panic("a defect")
	}, func() {
		m, err := w.Begin(cut, false)
		assert.NoError(t, err)
		assert.NoError(t, w.write(m, "gone"))
		cancel()
		assert.ErrorIs(t, m.Commit(), context.Canceled)
	})
	assert.Empty(t, w.there(), "nobody sees what may not last")
	require.NoError(t, first.Commit())
	assert.Contains(t, w.there(), "first")
	all.Wait()
	assert.Equal(t, []string{"first", "second"}, w.there())
	assert.EqualValues(t, 1, commits.Load())
}

// TestFirstIsNotKeptWaiting: after a time a transaction takes no further writers, though some wait.
func TestFirstIsNotKeptWaiting(t *testing.T) {
	w := newWriters(t)
	w.WaitAtMost(0)
	first := w.begin(false)
	require.NoError(t, w.write(first, "first"))
	all := w.behind(func() {
		m := w.begin(false)
		assert.Equal(t, []string{"first"}, w.there())
		assert.NoError(t, m.Commit())
	})
	require.NoError(t, first.Commit())
	all.Wait()
	assert.EqualValues(t, 2, commits.Load())
}

// TestNobodyWaitsForWhoGaveUp: the last who waits may go just when its turn comes; they who are done are answered all
// the same.
func TestNobodyWaitsForWhoGaveUp(t *testing.T) {
	w := newWriters(t)
	for range 300 {
		first := w.begin(false)
		require.NoError(t, w.write(first, fmt.Sprint("writer ", len(w.there()))))
		cut, cancel := context.WithCancel(t.Context())
		gone := w.behind(func() {
			if m, err := w.Begin(cut, false); err == nil {
				assert.NoError(t, m.Rollback())
			}
		})
		done := make(chan error)
		go func() { done <- first.Commit() }()
		cancel()
		require.NoError(t, <-done)
		gone.Wait()
	}
	assert.Len(t, w.there(), 300)
}

// TestDiskFails: when the sync of several fails, none of them is told that it was done, and nobody is told a refusal
// that rests on what others had written.
func TestDiskFails(t *testing.T) {
	w := newWriters(t)
	first := w.begin(false)
	require.NoError(t, w.write(first, "first"))
	all := w.behind(func() {
		m := w.begin(false)
		assert.Error(t, w.write(m, "first"), "it is taken")
		assert.ErrorIs(t, m.Rollback(), errDisk)
	}, func() {
		m := w.begin(false)
		assert.NoError(t, w.write(m, "third"))
		assert.ErrorIs(t, m.Commit(), errDisk)
	})
	diskGone.Store(true)
	defer diskGone.Store(false)
	assert.ErrorIs(t, first.Commit(), errDisk)
	all.Wait()
	diskGone.Store(false)
	assert.Empty(t, w.there())
	m := w.begin(false)
	require.NoError(t, w.write(m, "later"))
	require.NoError(t, m.Commit())
	assert.Equal(t, []string{"later"}, w.there())
}

// TestEngineUndoesAll: SQLite itself undoes a whole transaction when its disk is full. They who were done hear of it.
func TestEngineUndoesAll(t *testing.T) {
	w := newWriters(t)
	first := w.begin(false)
	require.NoError(t, w.write(first, "first"))
	all := w.behind(func() {
		m := w.begin(false)
		_, err := m.Tx().ExecContext(t.Context(), "ROLLBACK")
		assert.NoError(t, err)
		assert.Error(t, m.Commit())
	})
	assert.Error(t, first.Commit())
	all.Wait()
	assert.Empty(t, w.there())
}

// TestAloneSharesNothing: what runs alone begins when all others' work lasts, and others begin after it lasts.
func TestAloneSharesNothing(t *testing.T) {
	w := newWriters(t)
	first := w.begin(false)
	require.NoError(t, w.write(first, "first"))
	all := w.behind(func() {
		m := w.begin(true)
		assert.Equal(t, []string{"first"}, w.there())
		assert.NoError(t, w.write(m, "long"))
		assert.NoError(t, m.Commit())
	})
	require.NoError(t, first.Commit())
	all.Wait()
	assert.Equal(t, []string{"first", "long"}, w.there())
	assert.EqualValues(t, 2, commits.Load())
}
