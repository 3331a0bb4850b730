package inventory

import "context"

// Upload is a file that waits to be imported, as any copy of the program sees it.
type Upload struct {
	Code, Owner string
	KeptAt      Instant
	HeardAt     Instant // when the copy that reads it told of it last; 0 where none does
	State       string  // as who reads it wrote it
}

// Uploads keep files that wait to be imported. They are no facts.
type Uploads interface {
	// Keep keeps a file, and forgets those from before a time and, where as many as most would be kept, the oldest that
	// nobody reads. Refuses: Conflict where all are read.
	Keep(ctx context.Context, u Upload, file []byte, before, silent Instant, most int) error
	// Upload returns a file's state. Refuses: NotFound.
	Upload(ctx context.Context, code string) (Upload, error)
	// All lists the states of all that are kept, the oldest first. Never refuses.
	All(ctx context.Context) ([]Upload, error)
	// Take gives the file to who reads it from now on. Refuses: Conflict where it was told of since silent.
	Take(ctx context.Context, u Upload, silent Instant) ([]byte, error)
	// Tell stores when it was heard of, and its state. Refuses: Conflict for who told of it at was, where another took it
	// since, or asked to stop and this is not the end.
	Tell(ctx context.Context, u Upload, was Instant) error
	Stop(ctx context.Context, code string) error // asks who reads it to stop. Never refuses
}
