package barcode

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// token is an identifier and its value, found but not yet checked.
type token struct {
	id    *identifier
	value string
	start int // offset in the text of the value's first byte
	// offsets holds the place in the text of each byte of the value where the
	// value is not a plain stretch of it; nil where it is.
	offsets []int
}

// at is the offset in the text of byte i of the value, or of its end.
func (t token) at(i int) int {
	switch {
	case t.offsets == nil:
		return t.start + i
	case i < len(t.offsets):
		return t.offsets[i]
	case len(t.offsets) == 0:
		return t.start
	}
	return t.offsets[len(t.offsets)-1] + 1
}

// elementString splits text from an offset on as a scanner sends it; beside an error it returns the tokens before it.
// One leading separator is skipped: some readers pass FNC1 in first position on. A separator after an element that
// needs none is tolerated (General Specifications s.7.8.6).
func elementString(text string, from int) ([]token, *Error) {
	var tokens []token
	p := from
	if p < len(text) && text[p] == separator {
		p++
	}
	for p < len(text) {
		id, ok := identify(text[p:])
		if !ok {
			return tokens, unknownIdentifier(text, p, troubleAfter(tokens))
		}
		start := p + len(id.ai)
		p = valueEnd(text, start, id)
		tokens = append(tokens, token{id: id, value: text[start:p], start: start})
		if p < len(text) && text[p] == separator {
			p++
		}
	}
	if tokens == nil {
		return nil, &Error{Position: len(text), Reason: message.M("no data")}
	}
	return tokens, nil
}

// valueEnd is where the value at start ends: at the next separator, or sooner
// for the identifiers whose length is predefined.
func valueEnd(text string, start int, id *identifier) int {
	end := len(text)
	if i := strings.IndexByte(text[start:], separator); i >= 0 {
		end = start + i
	}
	if size := predefined[id.ai[:2]]; size > 0 {
		end = min(end, start+size)
	}
	return end
}

func unknownIdentifier(text string, p int, trouble Trouble) *Error {
	if !isDigit(text[p]) {
		return &Error{Position: p, Reason: message.M("application identifier expected"), Trouble: trouble}
	}
	return &Error{Position: p,
		Reason:  message.M("no such application identifier; a separator may be missing before it"),
		Trouble: trouble}
}

// troubleAfter is what an unknown identifier means: a text that begins with
// none is no pack's code, and one that began well was not read right.
func troubleAfter(tokens []token) Trouble {
	if len(tokens) == 0 {
		return NoPack
	}
	return Misread
}

// bracketed splits the form printed for people, "(01)…(10)…". A bracket
// inside a value must be written \( since set 82 holds brackets too.
func bracketed(text string, from int) ([]token, *Error) {
	var tokens []token
	for p := from; p < len(text); {
		id, next, err := bracketedIdentifier(text, p)
		if err != nil {
			err.Trouble = troubleAfter(tokens)
			return tokens, err
		}
		t := token{id: id, start: next, offsets: []int{}}
		var value []byte
		for p = next; p < len(text) && text[p] != '('; p++ {
			if strings.HasPrefix(text[p:], `\(`) {
				p++
			}
			value = append(value, text[p])
			t.offsets = append(t.offsets, p)
		}
		t.value = string(value)
		tokens = append(tokens, t)
	}
	return tokens, nil
}

// bracketedIdentifier reads "(nn)" at p and returns where the value begins.
func bracketedIdentifier(text string, p int) (*identifier, int, *Error) {
	size := strings.IndexByte(text[p:], ')')
	if size < 0 {
		return nil, 0, &Error{Position: p,
			Reason: message.M(`bracket not closed`)}
	}
	id, ok := known[text[p+1:p+size]]
	if !ok {
		return nil, 0, &Error{Position: p + 1,
			Reason: message.M(`no such application identifier`)}
	}
	return id, p + size + 1, nil
}

// fromTokens returns a function that checks tokens and takes the facts from them. When splitting ended in an error,
// what came before it is still checked first: an early fault is the likelier cause.
func fromTokens(scheme Scheme, today Date) func([]token, *Error) (Facts, *Error) {
	return func(tokens []token, err *Error) (Facts, *Error) {
		if first := validate(tokens, today); first != nil {
			err = first
		}
		if err != nil {
			return Facts{}, err
		}
		facts := factsOf(tokens, today)
		facts.Scheme = scheme
		return facts, nil
	}
}

// validate checks every value, and that none is given twice with two values (the same value twice is allowed).
func validate(tokens []token, today Date) *Error {
	for i, t := range tokens {
		if t.id.person {
			return &Error{Position: t.start, AI: t.id.ai,
				Reason: message.M("this identifies a patient, not a pack"), Trouble: Foreign}
		}
		if f := t.id.validate(t.value, today); f != nil {
			if f.tooLong && t.offsets == nil {
				f.reason = message.Join("; ", f.reason, message.M("a separator may be missing after it"))
			}
			return &Error{Position: t.at(f.at), AI: t.id.ai, Reason: f.reason}
		}
		same := func(o token) bool { return o.id == t.id && o.value != t.value }
		if slices.ContainsFunc(tokens[:i], same) {
			return &Error{Position: t.start, AI: t.id.ai, Reason: twice}
		}
	}
	return nil
}
