package lists

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/scope"
)

// ChangeBag stores a changed bag and logs what is different. why goes with the
// entries that give no reason of their own.
func ChangeBag(w inventory.Writer, by inventory.Actor, now inventory.Instant, old, changed inventory.Bag,
	why string) (inventory.Bag, error) {
	b, err := w.UpdateBag(changed)
	if err != nil {
		return b, err
	}
	for _, e := range history.ChangesOf(old, b) {
		e.RecordedAt, e.By = now, by.Name
		if e.Reason == "" {
			e.Reason = why
		}
		if err := w.AddBagLog(e); err != nil {
			return b, err
		}
	}
	return b, nil
}

// BagLog lists what people changed of a bag, newest first.
func (s *Service) BagLog(ctx context.Context, by inventory.Actor, code string,
	p inventory.Page) ([]inventory.BagLogEntry, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.BagLogEntry, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActSee)
		if err != nil {
			return nil, err
		}
		return r.BagLog(b.Code, p)
	})
}
