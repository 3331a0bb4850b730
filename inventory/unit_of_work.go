package inventory

import "context"

type wholeKey struct{}

// Whole says of a unit of work that what fails right within it fails all of it, so that the store need not be able to
// undo that alone.
func Whole(ctx context.Context) context.Context { return context.WithValue(ctx, wholeKey{}, true) }

// FailsWhole tells whether that was said.
func FailsWhole(ctx context.Context) bool { return ctx.Value(wholeKey{}) != nil }

type aloneKey struct{}

// Alone says of a unit of work that it is long, and may share nothing with others.
func Alone(ctx context.Context) context.Context { return context.WithValue(ctx, aloneKey{}, true) }

// RunsAlone tells whether that was said.
func RunsAlone(ctx context.Context) bool { return ctx.Value(aloneKey{}) != nil }

// Read runs a use case that only reads.
func Read[T any](ctx context.Context, s Store, fn func(r Reader) (T, error)) (T, error) {
	var out T
	err := s.Read(ctx, func(_ context.Context, r Reader) (err error) {
		out, err = fn(r)
		return err
	})
	return out, err
}

// Write runs a use case that changes something.
func Write[T any](ctx context.Context, s Store, fn func(w Writer) (T, error)) (T, error) {
	var out T
	err := s.Write(ctx, func(_ context.Context, w Writer) (err error) {
		out, err = fn(w)
		return err
	})
	return out, err
}

// ReadAs is Read for an actor who is refused where they may not do what is asked at any station.
func ReadAs[T any](ctx context.Context, s Store, by Actor, act Action, fn func(r Reader) (T, error)) (T, error) {
	if err := by.Must(act, ""); err != nil {
		return *new(T), err
	}
	return Read(ctx, s, fn)
}

// WriteAs is Write for an actor who is refused where they may not do what is asked at any station.
func WriteAs[T any](ctx context.Context, s Store, by Actor, act Action, fn func(w Writer) (T, error)) (T, error) {
	if err := by.Must(act, ""); err != nil {
		return *new(T), err
	}
	return Write(ctx, s, fn)
}
