package barcode

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// pairings warns of identifiers that lack their company or stand in company they must not be in. It warns and does
// not refuse because the rules hold over all symbols of an item together: a second, linear symbol with lot and date
// alone is legal.
func pairings(tokens []token) []Warning {
	var all []Warning
	for i, t := range tokens {
		same := func(o token) bool { return o.id == t.id }
		if slices.ContainsFunc(tokens[:i], same) {
			continue
		}
		if text := t.id.lacks(tokens); text != nil {
			all = append(all, Warning{Kind: Needs, AI: t.id.ai, Position: t.start, Text: text})
		}
		for _, pattern := range t.id.excludes {
			if t.id.accompanied(pattern, tokens) {
				all = append(all, Warning{
					Kind: Excludes, AI: t.id.ai, Position: t.start,
					Text: message.M("({1}) and ({2}) cannot be on one pack", t.id.ai, pattern),
				})
			}
		}
	}
	return all
}

// lacks says what the identifier needs and the tokens do not hold, nil for nothing.
func (id *identifier) lacks(tokens []token) message.Message {
	if len(id.needs) == 0 {
		return nil
	}
	var wanted message.Message
	for _, alternative := range id.needs {
		missing := func(pattern string) bool { return !id.accompanied(pattern, tokens) }
		if !slices.ContainsFunc(alternative, missing) {
			return nil
		}
		this := message.Plain("(" + strings.Join(alternative, ")+(") + ")")
		if wanted != nil {
			this = message.M("{1} or {2}", wanted, this)
		}
		wanted = this
	}
	return message.M("({1}) needs {2}: scan the pack's other code too", id.ai, wanted)
}

// accompanied tells whether another identifier among the tokens matches the pattern, in which n stands for any digit.
func (id *identifier) accompanied(pattern string, tokens []token) bool {
	stem := strings.TrimRight(pattern, "n")
	return slices.ContainsFunc(tokens, func(t token) bool {
		return t.id != id && len(t.id.ai) == len(pattern) && strings.HasPrefix(t.id.ai, stem)
	})
}
