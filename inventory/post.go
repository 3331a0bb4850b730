package inventory

import (
	"time"
)

// MaxQty is the most units that one movement carries.
const MaxQty = 1_000_000

// MaxLineQty is the most units in one line of what was found or used.
const MaxLineQty = 10_000

// ClockSkew is how far ahead a phone's clock may be before a time counts as
// lying in the future.
const ClockSkew = 5 * time.Minute

// Earliest is the first instant that falls on a day in range in every zone.
var Earliest = InstantOf(time.Date(1900, 1, 2, 0, 0, 0, 0, time.UTC))
