package inventory

import (
	"strconv"
	"strings"
	"time"
)

func monthOf(m int) time.Month { return time.Month(m) }

// plural writes a count with its noun, with an s where it is not one.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// spaced brings a name that people typed to one form: single blanks.
func spaced(s string) string { return strings.Join(strings.Fields(s), " ") }

// wordingText writes a wording as a pack has it.
func wordingText(w Wording) string { return strings.ReplaceAll(string(w), "_", " ") }
