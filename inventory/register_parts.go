package inventory

import (
	"math/big"
	"regexp"
	"strings"
)

// PartsNote words what was given and what was wasted of a controlled item, as
// it stands in the note of the movement: there it is part of the chain.
func PartsNote(given, wasted string) string {
	clean := strings.NewReplacer(";", ",")
	given, wasted = clean.Replace(OneLine(given)), clean.Replace(OneLine(wasted))
	switch {
	case given != "" && wasted != "":
		return "given " + given + ", wasted " + wasted
	case given != "":
		return "given " + given
	case wasted != "":
		return "wasted " + wasted
	}
	return ""
}

// partsOf reads what PartsNote wrote.
func partsOf(note string) (given, wasted string) {
	for remark := range strings.SplitSeq(note, "; ") {
		if g, ok := strings.CutPrefix(remark, "given "); ok {
			given, wasted, _ = strings.Cut(g, ", wasted ")
			return given, wasted
		}
		if w, ok := strings.CutPrefix(remark, "wasted "); ok {
			return "", w
		}
	}
	return "", ""
}

// restOf is a note without what PartsNote wrote.
func restOf(note string) string {
	var rest []string
	for remark := range strings.SplitSeq(note, "; ") {
		if !strings.HasPrefix(remark, "given ") && !strings.HasPrefix(remark, "wasted ") {
			rest = append(rest, remark)
		}
	}
	return strings.Join(rest, "; ")
}

var amountText = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-zµμ]+)`)

// amount reads a quantity with its unit from the beginning of a text.
func amount(s string) (n *big.Rat, unit string, ok bool) {
	found := amountText.FindStringSubmatch(strings.TrimSpace(s))
	if found == nil {
		return nil, "", false
	}
	n, ok = new(big.Rat).SetString(strings.ReplaceAll(found[1], ",", "."))
	return n, strings.ToLower(strings.ReplaceAll(found[2], "μ", "µ")), ok
}

// partsRemark says what does not add up in the parts of units that were used.
// Where the amounts have another unit than the strength it does not judge.
func partsRemark(strength string, qty int, given, wasted string) string {
	if given == "" && wasted == "" {
		return "what was given and what was wasted is not recorded"
	}
	whole, unit, ok := amount(strength)
	if !ok {
		return ""
	}
	sum := new(big.Rat)
	for _, part := range []string{given, wasted} {
		if part == "" {
			continue
		}
		n, u, ok := amount(part)
		if !ok || u != unit {
			return ""
		}
		sum.Add(sum, n)
	}
	whole.Mul(whole, big.NewRat(int64(qty), 1))
	if sum.Cmp(whole) != 0 {
		return "given and wasted do not add up to " + strings.TrimRight(strings.TrimRight(whole.FloatString(3), "0"),
			".") + " " + unit
	}
	return ""
}
