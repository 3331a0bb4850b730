package barcode

import (
	"fmt"
	"slices"
	"strings"
)

// picker draws a number from 0 to n-1. Properties draw through rapid, the
// differential test from a seeded source.
type picker func(n int) int

func (pick picker) of(all ...string) string { return all[pick(len(all))] }

func (pick picker) chance(percent int) bool { return pick(100) < percent }

// chars draws n bytes of the set.
func (pick picker) chars(set string, n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = set[pick(len(set))]
	}
	return string(b)
}

var today = Date{2026, 11, 25}

// allAIs lists the dictionary's identifiers of packs, in order.
var allAIs = func() []string {
	var ais []string
	for ai, id := range known {
		if !id.person {
			ais = append(ais, ai)
		}
	}
	slices.Sort(ais)
	return ais
}()

// packAIs are those that packs bear, drawn more often than the rest.
var packAIs = []string{"01", "10", "11", "15", "17", "21", "30", "37", "02", "240", "710", "7003", "8008"}

func (pick picker) identifier() *identifier {
	if pick.chance(60) {
		return known[pick.of(packAIs...)]
	}
	return known[pick.of(allAIs...)]
}

// validValue draws a value that the identifier accepts. The dictionary's own
// checks serve as the sieve; TestDictionary and the vectors hold those.
func (pick picker) validValue(id *identifier) string {
	for range 3000 {
		v := ""
		for _, p := range id.parts {
			if p.optional && pick.chance(50) {
				break
			}
			v += pick.piece(id, p)
		}
		if id.validate(v, today) == nil {
			return v
		}
	}
	panic("no valid value found for " + id.ai)
}

// piece draws a value for one part, of a shape that some check likes.
func (pick picker) piece(id *identifier, p part) string {
	size := p.min + pick(p.max-p.min+1)
	switch {
	case id.ai == "8007":
		return pick.of("GB82WEST12345698765432", "DE89370400440532013000") // examples of ISO 13616
	case id.ai == "8013" || id.ai == "8014":
		return withCheckPair("9521" + pick.chars(upper+lower+digits, 1+pick(19)))
	case id.ai == "4307" || id.ai == "4317":
		return pick.of(countryCodes...)
	case p.set == base64URL:
		return pick.chars(set64, size)
	case p.set == ascii39:
		return "952" + pick.chars(set39, max(1, size-3))
	case p.set == ascii82 && size == 1:
		return pick.of("-", "A", "7")
	case p.set == ascii82 && len(p.checks) > 0:
		return "952" + pick.chars(upper+digits+"-", min(p.max-3, size))
	case p.set == ascii82:
		return pick.chars(pick.of(set82, digits, upper+digits), size)
	}
	return pick.digits(size)
}

func (pick picker) digits(size int) string {
	switch {
	case size >= 13 && size <= 18 && size != 15:
		body := pick.chars(digits, size-1)
		if pick.chance(10) {
			body = "0" + body[1:]
		}
		return body + string(checkDigit(body))
	case size == 10 && pick.chance(90):
		return "1" + pick.chars(digits, 9)
	case size == 6:
		return fmt.Sprintf("%02d%02d%02d", pick(100), 1+pick(12), pick(29))
	case size == 4:
		return fmt.Sprintf("%02d%02d", 1+pick(23), 23+pick(36))
	case size == 3:
		return pick.of(pick.of(countryNumbers...), pick.of(currencyNumbers...))
	case size == 1:
		return pick.of("0", "1")
	}
	return pick.chars(digits, size)
}

// withCheckPair computes the check characters anew, by subtraction of
// weights, so that a slip in hasCheckPair would show.
func withCheckPair(data string) string {
	sum, weights := 0, []int{83, 79, 73, 71, 67, 61, 59, 53, 47, 43, 41, 37, 31, 29, 23, 19, 17, 13, 11, 7, 5, 3, 2}
	for i, w := range weights[len(weights)-len(data):] {
		sum += w * strings.Index(set82, data[i:i+1])
	}
	const c = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	return data + string(c[sum%1021/32]) + string(c[sum%1021%32])
}

// pair is an identifier with a value, for composing.
type pair struct{ ai, value string }

// validPairs draws one to six elements with different identifiers.
func (pick picker) validPairs() []pair {
	var all []pair
	for range 1 + pick(6) {
		id := pick.identifier()
		if !slices.ContainsFunc(all, func(p pair) bool { return p.ai == id.ai }) {
			all = append(all, pair{id.ai, pick.validValue(id)})
		}
	}
	return all
}

// scanned composes an element string as a scanner sends it.
func scanned(all []pair) string {
	var b strings.Builder
	for i, p := range all {
		b.WriteString(p.ai + p.value)
		if i < len(all)-1 && predefined[p.ai[:2]] == 0 { // unless it is last a separator must follow
			b.WriteByte(separator)
		}
	}
	return b.String()
}

// printed composes the bracketed form.
func printed(all []pair) string {
	var b strings.Builder
	for _, p := range all {
		b.WriteString("(" + p.ai + ")" + strings.ReplaceAll(p.value, "(", `\(`))
	}
	return b.String()
}

// linked composes a Digital Link: the first pair as key, its qualifiers in the
// path, the rest in the query.
func linked(all []pair) string {
	path := "https://example.com/some/" + all[0].ai + "/" + escaped(all[0].value)
	query := ""
	key := []token{{id: known[all[0].ai]}}
	for _, p := range all[1:] {
		if known[p.ai].path || known[p.ai].belongsInPath(key) {
			path += "/" + p.ai + "/" + escaped(p.value)
			continue
		}
		query += "&" + p.ai + "=" + escaped(p.value)
	}
	if query != "" {
		path += "?" + query[1:]
	}
	return path
}

func escaped(v string) string {
	var b strings.Builder
	for i := 0; i < len(v); i++ {
		if set39Letter(v[i]) {
			b.WriteByte(v[i])
		} else {
			fmt.Fprintf(&b, "%%%02X", v[i])
		}
	}
	return b.String()
}

func elementsOf(all []pair) map[string]string {
	m := make(map[string]string)
	for _, p := range all {
		m[p.ai] = p.value
	}
	return m
}
