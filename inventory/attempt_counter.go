package inventory

// AttemptCounter is what is counted of one subject of wrong tries to sign in: a name on a
// terminal, a terminal, an address.
type AttemptCounter struct {
	Subject    string
	Attempts   int
	LastAt     Instant
	LockedTill Instant
}
