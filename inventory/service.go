package inventory

import "context"

// Service is the use cases: what people and programs can do. The API, the
// pages and the command line call nothing else.
type Service struct {
	Store     Store
	Now       Clock
	Published []PublishedList // kit lists to start from

	// KeepRegisters is how many years a register is kept after its last entry,
	// the owner's policy; RegisterYears where it is 0.
	KeepRegisters int
}

// NewService returns the use cases over a store and a clock. What they keep,
// the history keeps too.
func NewService(s Store, now Clock) *Service { return &Service{Store: recorded(s, now), Now: now} }

// Together runs several use cases in one unit of work: all of them happen or
// none does.
func (s *Service) Together(ctx context.Context, fn func(ctx context.Context) error) error {
	return s.Store.Write(ctx, func(ctx context.Context, _ Writer) error { return fn(ctx) })
}

// read runs a use case that only reads.
func read[T any](ctx context.Context, s *Service, fn func(r Reader) (T, error)) (T, error) {
	var out T
	err := s.Store.Read(ctx, func(_ context.Context, r Reader) (err error) {
		out, err = fn(r)
		return err
	})
	return out, err
}

// write runs a use case that changes something.
func write[T any](ctx context.Context, s *Service, fn func(w Writer) (T, error)) (T, error) {
	var out T
	err := s.Store.Write(ctx, func(_ context.Context, w Writer) (err error) {
		out, err = fn(w)
		return err
	})
	return out, err
}

// sitesSeen narrows a list to the actor's sites; nil means every site. Who
// must belong to a site and belongs to none sees none.
func (a Actor) sitesSeen() []string {
	if len(a.Sites) == 0 && !a.At("") {
		return []string{""} // no site has this code
	}
	return a.Sites
}

// known turns a NotFound about something that a request names into a wrong
// field of that request.
// A nil error stays nil.
func known(err error, path, what string) error {
	if KindOf(err) == NotFound {
		return Invalidf(path, "no such %s", what)
	}
	return err
}
