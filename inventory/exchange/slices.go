package exchange

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// A file of at most atOnce rows is imported in one unit of work, and longer ones in slices: the first of few rows, and
// then of as many as are written in about heldFor, since everybody else waits for so long, or twice that while nobody
// does. Who waits for a slice comes before the next, and after that the import waits as long as they made it wait, at
// most as long as it made them.
const (
	atOnce     = 200
	firstSlice = 100
	mostSlice  = 1000
	heldFor    = 50 * time.Millisecond
	atAll      = 2 * time.Millisecond // who waits less does not wait for anybody
)

// task is what an import has to do about a row, or about several, in a unit of work. It may be done again, where that
// lost a race.
type task struct {
	of *record
	do func(*record) error
}

// later has something done in a unit of work, after all that was asked for before.
func (im *importing) later(t task) error {
	im.queue = append(im.queue, t)
	if len(im.queue) < 2*mostSlice {
		return nil
	}
	return im.flush(mostSlice)
}

// flush does what waits, save for the last of it.
func (im *importing) flush(last int) error {
	for len(im.queue) > last {
		n := min(cmp.Or(im.slice, mostSlice), len(im.queue))
		do := im.do
		if im.slice != 0 {
			do = im.write
		}
		if err := do(im.queue[:n]); err != nil {
			return err
		}
		im.queue = slices.Delete(im.queue, 0, n)
	}
	return nil
}

// sliced is a reader that does something at the begin and end of each slice.
type sliced interface {
	begin([]task) error
	finish() error
}

// do does some tasks in the unit of work that there is.
func (im *importing) do(tasks []task) error {
	s, ok := im.reader.(sliced)
	if ok {
		if err := s.begin(tasks); err != nil {
			return err
		}
	}
	for _, t := range tasks {
		r := *t.of
		if err := t.do(&r); err != nil {
			return err
		}
	}
	if ok {
		return s.finish()
	}
	return nil
}

// write does some tasks in a unit of work of their own. Where a row is refused nothing of it stays, and the import
// ends.
func (im *importing) write(tasks []task) error {
	before, others := im.report, im.others
	var began inventory.Instant
	asked := im.s.now()
	err := im.s.store.Write(inventory.Alone(im.outer), func(ctx context.Context, w inventory.Writer) error {
		began = im.s.now()
		im.ctx, im.w, im.now, im.report, im.others = ctx, w, began, before, others
		im.by = account.Continued(im.by, began)
		err := im.do(tasks)
		if err == nil && im.report.Refused > before.Refused {
			err = errUndo
		}
		return err
	})
	held := im.s.now().Sub(began)
	if err != nil {
		refused := im.report
		im.report, im.others = before, others
		if errors.Is(err, errUndo) {
			im.report.Refused, im.report.Lines = refused.Refused, refused.Lines
			im.report.SigningNeeded = refused.SigningNeeded
		}
		return err
	}
	for range tasks {
		if im.done++; im.done%200 == 0 {
			im.tell(im.done)
		}
	}
	most, hold, waited := 2*len(tasks), heldFor, began.Sub(asked)
	if waited < atAll {
		hold *= 2
	}
	if held > 0 {
		most = min(most, int(int64(len(tasks))*int64(hold)/int64(held)))
	}
	im.slice = min(max(most, 4), mostSlice)
	if waited >= atAll {
		pause, done := context.WithTimeout(im.outer, min(waited, held))
		defer done()
		<-pause.Done()
	}
	return im.outer.Err()
}

// look reads what the import begins with.
func (im *importing) look(fn func(inventory.Reader) error) error {
	if im.slice == 0 {
		return fn(im.w)
	}
	return im.s.store.Read(im.outer, func(_ context.Context, r inventory.Reader) error { return fn(r) })
}
