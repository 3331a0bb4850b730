package inventory

import (
	"strconv"
	"strings"
	"time"
)

func MonthOf(m int) time.Month { return time.Month(m) }

// Plural writes a count with its noun, with an s where it is not one.
func Plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// Spaced brings a name that people typed to one form: single blanks.
func Spaced(s string) string { return strings.Join(strings.Fields(s), " ") }

// WordingText writes a wording as a pack has it.
func WordingText(w Wording) string { return strings.ReplaceAll(string(w), "_", " ") }
