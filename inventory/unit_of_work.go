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

// StationsSeen narrows a list to the actor's stations; nil means every station. Who
// must belong to a station and belongs to none sees none.
func (a Actor) StationsSeen() []string {
	if len(a.Stations) == 0 && !a.At("") {
		return []string{""} // no station has this code
	}
	return a.Stations
}

// AsField turns a NotFound about something that a request names into a wrong
// field of that request.
// A nil error stays nil.
func AsField(err error, path, what string) error {
	if KindOf(err) == NotFound {
		return Invalidf(path, "no such %s", what)
	}
	return err
}
