package inventory

// OnConflict says what a receipt does where the same batch was received with
// another date.
type OnConflict string

// The two ways out.
const (
	KeepEarlier    OnConflict = "keep"    // the earlier record is right, the date here was misread
	CorrectEarlier OnConflict = "correct" // the earlier record is wrong, and is corrected
)
