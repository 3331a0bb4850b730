package scope

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// BareCode is a code without all that people leave out when they type it.
func BareCode(s string) string {
	return strings.NewReplacer("-", "", ".", "").Replace(inventory.NormalCode(s))
}

// mostNear is how many near codes are offered.
const mostNear = 5

// SuggestCodes returns those of the codes that somebody who typed the text can have meant, nearest first, then by
// code: at most five. Case, blanks, hyphens and full stops do not count. A code is near when no more than a third of
// its characters, at least one, were mistyped, left out, added or swapped with the next (the four ways in which four
// in five wrong words go wrong: F. J. Damerau, "A technique for computer detection and correction of spelling
// errors", Communications of the ACM 7(3), 1964), or when three or more characters that were typed stand in it as
// they are.
func SuggestCodes(typed string, codes []string) []string {
	type near struct {
		code string
		off  int
	}
	want := BareCode(typed)
	if want == "" || len(want) > 2*inventory.MaxCode {
		return nil
	}
	var found []near
	for _, code := range codes {
		have := BareCode(code)
		off := editDistance(want, have)
		if off <= max(1, len(have)/3) || len(want) >= 3 && strings.Contains(have, want) {
			found = append(found, near{code, off})
		}
	}
	slices.SortFunc(found, func(a, b near) int { return cmp.Or(cmp.Compare(a.off, b.off), cmp.Compare(a.code, b.code)) })
	found = found[:min(len(found), mostNear)]
	out := make([]string, len(found))
	for i, n := range found {
		out[i] = n.code
	}
	return out
}

// editDistance is the least number of characters mistyped, left out, added or
// swapped with the next that turn a into b, no place being edited twice.
func editDistance(a, b string) int {
	from, to := []rune(a), []rune(b)
	before, last := []int(nil), make([]int, len(to)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(from); i++ {
		row := make([]int, len(to)+1)
		row[0] = i
		for j := 1; j <= len(to); j++ {
			same := 1
			if from[i-1] == to[j-1] {
				same = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+same)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(to)]
}

// NoSuchBag is the error about a code that no bag has, with the nearest codes at the stations that the actor sees:
// also of bags that are retired, since their labels are still about.
func NoSuchBag(r inventory.Reader, by inventory.Actor, typed string) error {
	bags, err := r.Bags(inventory.BagFilter{AtStations: by.StationsSeen(), Retired: true}, inventory.Page{})
	if err != nil {
		return err
	}
	codes, names := make([]string, len(bags)), make(map[string]string, len(bags))
	for i, b := range bags {
		codes[i], names[b.Code] = b.Code, b.Name
	}
	e := &inventory.Error{Kind: inventory.NotFound, Message: message.M("no bag has this code")}
	for _, code := range SuggestCodes(typed, codes) {
		e.Near = append(e.Near, inventory.Suggestion{Code: code, Name: names[code]})
	}
	return e
}
