package inventory

import "context"

// Snapshot is what a request that only looks is shown: a store opens it for the
// first Read of the request, and every other Read joins it.
type Snapshot struct {
	Context context.Context // of the request: the snapshot ends with it at the latest
	Of      any             // the store's own, nil while none is open
	Close   func()          // gives it back; nil while none is open
	ended   bool
}

type lookKey struct{}

// Look returns a context for a request that only looks. Every Read under it sees one snapshot, opened by the first; a
// Write under it is refused. done gives the snapshot back: it must be called, may be called twice, and a Read after
// it sees a snapshot of its own. A look within another is that one, which ends later. Like a unit of work, a look
// serves one goroutine.
func Look(ctx context.Context) (_ context.Context, done func()) {
	if outer, _ := OnlyLooks(ctx); outer != nil {
		return ctx, func() {}
	}
	s := &Snapshot{Context: ctx}
	return context.WithValue(ctx, lookKey{}, s), func() {
		s.ended = true
		s.Drop()
	}
}

// Drop gives back what is open, so that the next Read opens another.
func (s *Snapshot) Drop() {
	if s.Close != nil {
		s.Close()
	}
	s.Of, s.Close = nil, nil
}

// OnlyLooks tells whether the request may not write, and returns the snapshot
// that its Reads share, nil once that has been given back.
func OnlyLooks(ctx context.Context) (shared *Snapshot, only bool) {
	s, only := ctx.Value(lookKey{}).(*Snapshot)
	if only && s.ended {
		return nil, true
	}
	return s, only
}
