package amount

import (
	"math/big"
	"strings"

	"stowkeeper/inventory/message"
)

// Parts are what was given and what was wasted of units that were used.
type Parts struct{ Given, Wasted Amount }

// Note words parts as they stand in the note of the movement: there they are part of the chain.
func (p Parts) Note(unit string) string {
	clean := strings.NewReplacer(";", ",")
	given := clean.Replace(Of(string(p.Given), unit).Words(unit))
	wasted := clean.Replace(Of(string(p.Wasted), unit).Words(unit))
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

// PartsOf reads what Note wrote.
func PartsOf(note string) Parts {
	for remark := range strings.SplitSeq(note, "; ") {
		if g, ok := strings.CutPrefix(remark, "given "); ok {
			given, wasted, _ := strings.Cut(g, ", wasted ")
			return Parts{Amount(given), Amount(wasted)}
		}
		if w, ok := strings.CutPrefix(remark, "wasted "); ok {
			return Parts{"", Amount(w)}
		}
	}
	return Parts{}
}

// Wrong says what does not add up in the parts of units that were used: together they are what was in the units.
// Nothing is said where no content is known.
func (p Parts) Wrong(content Content, qty int) message.Message {
	if content.None() {
		return nil
	}
	if p == (Parts{}) {
		return message.M("given and wasted not recorded")
	}
	whole, ok := content.Quantity.In(content.Unit)
	sum := new(big.Rat)
	for _, part := range []Amount{p.Given, p.Wasted} {
		if n, reads := part.In(content.Unit); reads {
			sum.Add(sum, n)
		} else {
			ok = ok && part == ""
		}
	}
	if whole == nil {
		whole = new(big.Rat)
	}
	whole.Mul(whole, big.NewRat(int64(qty), 1))
	if ok && sum.Cmp(whole) == 0 {
		return nil
	}
	return message.M("given and wasted do not add up to {1} {2}", string(short(whole)), content.Unit)
}
