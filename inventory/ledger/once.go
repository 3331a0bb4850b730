package ledger

import (
	"context"

	"stowkeeper/inventory"
)

// Once answers a request that carries a key: the first time by doing it, later by giving the first answer again. The
// answer is kept in the same unit of work as the effect, so a crash leaves both or neither. A request that failed
// leaves no answer, so that it may be tried again. Refuses: Invalid for the same key with another content; else what
// do refuses.
func (s *Service) Once(ctx context.Context, k inventory.RequestKey, bodyHash string,
	do func(ctx context.Context) (inventory.Answer, error)) (a inventory.Answer, replayed bool, err error) {
	a, replayed, err = s.once(ctx, k, bodyHash, do)
	if doubt := err; inventory.KindOf(doubt) == inventory.InDoubt { // with its key it counts once
		if a, replayed, err = s.once(ctx, k, bodyHash, do); inventory.KindOf(err) == inventory.Unavailable {
			return a, false, doubt
		}
	}
	if err != nil && inventory.KindOf(err) == inventory.Conflict {
		// Another copy of this very request may have got in between.
		if old, found, again := s.kept(ctx, k, bodyHash); found || again != nil &&
			inventory.KindOf(again) == inventory.Invalid {
			return old, found, again
		}
	}
	return a, replayed, err
}

func (s *Service) once(ctx context.Context, k inventory.RequestKey, bodyHash string,
	do func(ctx context.Context) (inventory.Answer, error)) (a inventory.Answer, replayed bool, err error) {
	err = s.store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		old, err := w.Answer(k)
		if err == nil {
			a, replayed = old, true
			return sameRequest(old, bodyHash)
		}
		if inventory.KindOf(err) != inventory.NotFound {
			return err
		}
		if a, err = do(inventory.Whole(ctx)); err != nil {
			return err
		}
		a.BodyHash, a.CreatedAt, replayed = bodyHash, s.now(), false
		return w.KeepAnswer(k, a)
	})
	return a, replayed, err
}

// Answered returns the answer that was kept for a key. Refuses: NotFound where none was; Invalid for the same key
// with another content.
func (s *Service) Answered(ctx context.Context, k inventory.RequestKey, bodyHash string) (a inventory.Answer,
	found bool, err error) {
	return s.kept(ctx, k, bodyHash)
}

func (s *Service) kept(ctx context.Context, k inventory.RequestKey, bodyHash string) (a inventory.Answer, found bool,
	err error) {
	err = s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		if a, err = r.Answer(k); err != nil {
			return err
		}
		found = true
		return sameRequest(a, bodyHash)
	})
	return a, found, err
}

func sameRequest(a inventory.Answer, bodyHash string) error {
	if a.BodyHash != bodyHash {
		return inventory.InvalidField("Idempotency-Key", "key already used: use a new one")
	}
	return nil
}
