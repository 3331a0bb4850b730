package web

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"html/template"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Rules and pages word much in Go, in English. Such a text is put into the
// catalogue's words where a page writes it: it is looked up as a whole, then as
// a text with values in it, then part by part.

// pattern is a text with values in it: what stands between them, and which
// value stands where.
type pattern struct {
	key, said string
	between   []string // one more than there are values
	values    []string // the marks, in the order of the English
	letters   int      // how many letters are its own
}

// telling is how many letters of its own make a text safe to look for in a
// whole sentence, rather than only in a part of one.
const telling = 6

func patternsOf(texts map[string]string) []pattern {
	var out []pattern
	for key, said := range texts {
		if strings.Contains(key, "<1>") || !strings.Contains(key, "{1}") {
			continue
		}
		p := pattern{key: key, said: said, between: mark.Split(key, -1), values: mark.FindAllString(key, -1)}
		for _, r := range strings.Join(p.between, "") {
			if unicode.IsLetter(r) {
				p.letters++
			}
		}
		if !slices.Contains(p.between[1:len(p.between)-1], "") && p.letters > 0 {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b pattern) int {
		return cmp.Or(b.letters-a.letters, len(b.values)-len(a.values), strings.Compare(a.key, b.key))
	})
	return out
}

// match returns the values in a text, if it is of this pattern.
func (p pattern) match(text string) ([]string, bool) {
	last := len(p.between) - 1
	text, ok := strings.CutPrefix(text, p.between[0])
	if !ok {
		return nil, false
	}
	var values []string
	for _, b := range p.between[1:last] {
		value, rest, ok := strings.Cut(text, b)
		if !ok {
			return nil, false
		}
		values, text = append(values, value), rest
	}
	value, ok := strings.CutSuffix(text, p.between[last])
	values = append(values, value)
	return values, ok && !slices.Contains(values, "")
}

// likely tells whether values belong to a text. One as short as "{1} at {2}"
// also stands in what people typed in: it takes a number, or names and our words.
func (c *catalogue) likely(p pattern, values []string) bool {
	first := func(v string) rune { r, _ := utf8.DecodeRuneInString(v); return r }
	return p.letters >= 5 || slices.ContainsFunc(values, func(v string) bool { return unicode.IsDigit(first(v)) }) ||
		!slices.ContainsFunc(values, func(v string) bool {
			return unicode.IsLower(first(v)) && c.texts[v] == "" || strings.HasSuffix(v, ",")
		})
}

// say puts what a template writes into the catalogue's words.
func (c *catalogue) say(value any) any {
	switch v := value.(type) {
	case nil:
		return ""
	case string:
		return c.said(v)
	case template.HTML: // a day
		if said, ok := c.text(string(v)); ok {
			return said
		}
		return template.HTML(c.months(string(v)))
	case fmt.Stringer:
		return c.said(v.String())
	}
	if v := reflect.ValueOf(value); v.Kind() == reflect.String {
		return c.said(v.String())
	}
	return value
}

// said puts an English text into the catalogue's words, as far as it has them.
func (c *catalogue) said(text string) string {
	if c == nil || !hasLetter(text) {
		return text
	}
	return c.months(c.whole(text, 0))
}

// word puts a word into the catalogue's, only if it is one as a whole: so it
// is for a field that mostly holds what people typed in.
func (c *catalogue) word(value any) any {
	if said, ok := c.text(fmt.Sprint(value)); ok {
		return said
	}
	return value
}

// whole translates a text, or leaves it.
func (c *catalogue) whole(text string, depth int) string {
	if depth > 12 || !hasLetter(text) {
		return text
	}
	a := asked{text, depth == 0}
	said, ok := c.memory.get(a)
	if !ok {
		said = c.find(text, depth)
		c.memory.keep(a, said)
	}
	return said
}

// find translates a text, or leaves it. A sentence is looked up without its
// capital and full stop too, since rules word no sentences.
func (c *catalogue) find(text string, depth int) string {
	if said, ok := c.known(text, depth, telling); ok {
		return said
	}
	plain := strings.TrimSuffix(text, ".")
	if depth == 0 {
		plain = withFirst(plain, unicode.ToLower)
	}
	if said, ok := c.known(plain, depth, telling); ok {
		return like(text, said)
	}
	if said := c.parts(text, depth); said != text {
		return said
	}
	if said, ok := c.known(text, depth, 1); ok {
		return said
	}
	if said, ok := c.known(plain, depth, 1); ok {
		return like(text, said)
	}
	return c.beforeNumber(text, depth)
}

// beforeNumber translates words with a number or day after them.
func (c *catalogue) beforeNumber(text string, depth int) string {
	i := strings.IndexFunc(text, unicode.IsDigit)
	if i < 2 || text[i-1] != ' ' {
		return text
	}
	if said, ok := c.texts[text[:i-1]]; ok {
		return said + " " + c.whole(text[i:], depth+1)
	}
	return text
}

func withFirst(text string, change func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(text)
	return string(change(r)) + text[n:]
}

// like gives a text the capital and the full stop that the English had.
func like(text, said string) string {
	if r, _ := utf8.DecodeRuneInString(text); unicode.IsUpper(r) {
		said = withFirst(said, unicode.ToUpper)
	}
	if strings.HasSuffix(text, ".") && !strings.HasSuffix(said, ".") {
		said += "."
	}
	return said
}

// known looks a text up, as it is and as one with values in it.
func (c *catalogue) known(text string, depth, letters int) (string, bool) {
	if said, ok := c.texts[text]; ok {
		return said, true
	}
	for _, p := range c.patterns {
		if p.letters < letters {
			break
		}
		values, ok := p.match(text)
		if !ok || !c.likely(p, values) {
			continue
		}
		return mark.ReplaceAllStringFunc(p.said, func(m string) string {
			return c.whole(values[slices.Index(p.values, m)], depth+1)
		}), true
	}
	return "", false
}

// separators stand between the parts of a text that was put together, the
// widest first.
var separators = []string{". ", ": ", "; ", " (", ")", ", ", " × ", "“", "”", `"`}

// parts translates a text part by part.
func (c *catalogue) parts(text string, depth int) string {
	for _, sep := range separators {
		if !strings.Contains(text, sep) {
			continue
		}
		if sep != ". " { // a sentence is one as a whole
			depth++
		}
		return strings.Join(c.list(strings.Split(text, sep), sep, depth), sep)
	}
	return text
}

// list translates parts, several as one where they are one text. The name of a
// thing may have a word of ours behind a comma, as in "Gloves, pair": a single
// word is only translated among parts that all are.
func (c *catalogue) list(parts []string, sep string, depth int) []string {
	var out, was []string
	foreign := false
	for len(parts) > 0 {
		n := len(parts)
		for n > 1 && c.texts[strings.Join(parts[:n], sep)] == "" {
			n--
		}
		part := strings.Join(parts[:n], sep)
		said := c.whole(part, depth)
		foreign = foreign || said == part && strings.IndexFunc(part, unicode.IsLower) >= 0
		out, was, parts = append(out, said), append(was, part), parts[n:]
	}
	for i := range out {
		if foreign && sep == ", " && !strings.Contains(was[i], " ") {
			out[i] = was[i]
		}
	}
	return out
}

// dayWritten is a day as pages write it.
var dayWritten = regexp.MustCompile(`\b(\d{1,2}) (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (\d{4})\b`)

// monthTexts are the catalogue's twelve texts for them.
var monthTexts = []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// months names the months of the days in a text.
func (c *catalogue) months(text string) string {
	if c == nil {
		return text
	}
	return dayWritten.ReplaceAllStringFunc(text, func(s string) string {
		m := dayWritten.FindStringSubmatch(s)
		return m[1] + " " + cmp.Or(template.HTMLEscapeString(c.texts[m[2]]), m[2]) + " " + m[3]
	})
}

// sum changes with the catalogue.
func (c *catalogue) sum() []byte {
	if c == nil {
		return nil
	}
	sum := sha256.Sum256(fmt.Append(nil, c.language, c.texts))
	return sum[:]
}
