package inventory

import "context"

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
