package history

import (
	"context"

	"stowkeeper/inventory"
)

// LookAtClock looks for a record that is ahead of the clock, for Clock to tell of. It never refuses.
func (s *Service) LookAtClock(ctx context.Context) error {
	ahead, err := inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Instant, error) {
		return r.RecordedAfter(s.now())
	})
	if err == nil {
		s.ahead.Store(int64(ahead))
	}
	return err
}

// Clock compares the clock with the newest record that LookAtClock found. It never refuses.
func (s *Service) Clock() ClockCheck {
	return ClockCheck{Now: s.now(), Newest: inventory.Instant(s.ahead.Load())}
}

// ConfirmClock says that the clock is right, and not the records that are ahead of it: they count no longer for what
// Clock compares. Refuses: Forbidden without keep_people; Invalid where the actor has not just confirmed.
func (s *Service) ConfirmClock(ctx context.Context, by inventory.Actor) error {
	_, err := inventory.WriteAs(ctx, s.store, by, inventory.ActKeepPeople, func(w inventory.Writer) (struct{}, error) {
		if err := by.MustConfirm(s.now()); err != nil {
			return struct{}{}, err
		}
		return struct{}{}, w.AddHistory([]inventory.HistoryEntry{{RecordedAt: s.now(), By: by.Name, From: by.From,
			Kind: inventory.HistoryClockConfirmed}})
	})
	if err != nil {
		return err
	}
	return s.LookAtClock(ctx)
}
