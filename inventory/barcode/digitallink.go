package barcode

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// webAddress tells whether s begins as a web address, in letters of any case.
func webAddress(s string) bool {
	for _, scheme := range []string{"http://", "https://"} {
		if len(s) >= len(scheme) && strings.EqualFold(s[:len(scheme)], scheme) {
			return true
		}
	}
	return false
}

// linkChars are the characters of a URI, RFC 3986 section 2.
var linkChars = newCharset(message.M("character not allowed"), upper+lower+digits+"-._~:/?#[]@!$&'()*+,;=%")

// digitalLink reads a GS1 Digital Link URI (GS1 Digital Link: URI syntax): the rightmost primary key of the path, its
// qualifiers in order, and the query's further identifiers. The fragment does not count.
func digitalLink(text string, from int) ([]token, *Error) {
	rest := text[from:]
	if i := linkChars.outside(rest); i >= 0 {
		return nil, &Error{Position: from + i, Reason: linkChars.only}
	}
	scheme := rest[:strings.IndexByte(rest, ':')]
	if scheme != strings.ToLower(scheme) && scheme != strings.ToUpper(scheme) {
		return nil, &Error{Position: from,
			Reason: message.M("a web address begins with http or https")}
	}
	if i := strings.IndexByte(rest, '#'); i >= 0 {
		rest = rest[:i]
	}
	path, query, _ := strings.Cut(rest, "?")
	host := len(scheme) + len("://")
	slash := strings.IndexByte(path[host:], '/')
	if slash == 0 || path[host:] == "" {
		return nil, &Error{Position: from + host, Reason: message.M("no host"), Trouble: NoPack}
	}
	if slash < 0 {
		return nil, &Error{Position: from + len(path), Reason: noKey, Trouble: NoPack}
	}
	start := host + slash
	tokens, err := linkPath(path[start:], from+start)
	if err != nil {
		return tokens, err
	}
	return linkQuery(tokens, query, from+len(path)+1)
}

var noKey = message.M("no GS1 key in the web address")

// segment is a stretch of a path or a query with its offset in the text.
type segment struct {
	s  string
	at int
}

func split(s string, at int, sep string) []segment {
	var all []segment
	for _, piece := range strings.Split(s, sep) {
		all = append(all, segment{piece, at})
		at += len(piece) + len(sep)
	}
	return all
}

// linkPath reads key and qualifiers from path, which begins with a slash. The pairs are looked at from the right, so
// that a value which looks like a key is not taken for one.
func linkPath(path string, at int) ([]token, *Error) {
	pieces := split(path[1:], at+1, "/")
	for i := len(pieces) - 2; i >= 0; i -= 2 {
		if id, ok := known[pieces[i].s]; ok && id.key {
			return keyAndQualifiers(pieces[i:])
		}
	}
	if last := pieces[len(pieces)-1]; last.s == "" && len(pieces) > 1 {
		return nil, &Error{Position: last.at - 1, Reason: message.M("character not allowed")}
	}
	return nil, &Error{Position: at, Reason: noKey, Trouble: NoPack}
}

// keyAndQualifiers reads pieces, an even number, of which the first is a key.
func keyAndQualifiers(pieces []segment) ([]token, *Error) {
	var tokens []token
	var qualifiers []string
	for i := 0; i < len(pieces); i += 2 {
		id, ok := known[pieces[i].s]
		if !ok {
			return tokens, &Error{Position: pieces[i].at, Reason: message.M("no such application identifier")}
		}
		if i > 0 {
			qualifiers = append(qualifiers, id.ai)
			if !tokens[0].id.qualified(qualifiers) {
				return tokens, &Error{Position: pieces[i].at, AI: id.ai,
					Reason: message.M("wrong order in the path")}
			}
		}
		t, err := linkToken(id, pieces[i+1], false)
		if err != nil {
			return tokens, err
		}
		tokens = append(tokens, t)
	}
	return tokens, nil
}

// qualified tells whether the list is one of the key's sequences, in order, with any of it left out.
func (id *identifier) qualified(list []string) bool {
	return slices.ContainsFunc(id.qualifiers, func(sequence []string) bool {
		rest := sequence
		for _, ai := range list {
			i := slices.Index(rest, ai)
			if i < 0 {
				return false
			}
			rest = rest[i+1:]
		}
		return true
	})
}

// linkQuery adds the identifiers of the query. Parameters whose name is no
// number, or that have no value, belong to somebody else and are ignored.
func linkQuery(path []token, query string, at int) ([]token, *Error) {
	tokens := slices.Clone(path)
	for _, parameter := range split(query, at, "&") {
		name, v, valued := strings.Cut(parameter.s, "=")
		if !valued || numeric.outside(name) >= 0 {
			continue
		}
		id, ok := known[name]
		if !ok {
			return tokens, &Error{Position: parameter.at, Reason: message.M("no such application identifier")}
		}
		if slices.ContainsFunc(tokens, func(t token) bool { return t.id == id }) {
			return tokens, &Error{Position: parameter.at, AI: id.ai, Reason: message.M("there twice")}
		}
		if id.path || id.belongsInPath(path) {
			return tokens, &Error{Position: parameter.at, AI: id.ai,
				Reason: message.M("belongs in the path")}
		}
		t, err := linkToken(id, segment{v, parameter.at + len(name) + 1}, true)
		if err != nil {
			return tokens, err
		}
		tokens = append(tokens, t)
	}
	return tokens, nil
}

// belongsInPath tells whether a sequence of the path's key has room for the
// identifier beside the qualifiers that the path has.
func (id *identifier) belongsInPath(path []token) bool {
	return slices.ContainsFunc(path[0].id.qualifiers, func(sequence []string) bool {
		foreign := func(t token) bool { return !slices.Contains(sequence, t.id.ai) }
		return slices.Contains(sequence, id.ai) && !slices.ContainsFunc(path[1:], foreign)
	})
}

// linkToken decodes a value. A plus sign is a plus sign in a path and a blank in a query.
func linkToken(id *identifier, raw segment, query bool) (token, *Error) {
	t := token{id: id, start: raw.at, offsets: []int{}}
	var value []byte
	for i := 0; i < len(raw.s); i++ {
		c := raw.s[i]
		t.offsets = append(t.offsets, raw.at+i)
		switch {
		case c == '%':
			decoded, ok := hexByte(raw.s, i+1)
			if !ok {
				return t, &Error{Position: raw.at + i, AI: id.ai,
					Reason: message.M("character not allowed")}
			}
			c = decoded
			i += 2
		case c == '+' && query:
			c = ' '
		}
		value = append(value, c)
	}
	t.value = string(value)
	return t, nil
}
