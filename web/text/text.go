// Package text words messages in the language of who reads a page. A text without a translation stays English.
package text

import (
	"cmp"
	"embed"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"html/template"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	printer "golang.org/x/text/message"
	"golang.org/x/text/message/catalog"

	"stowkeeper/inventory/message"
)

// Catalogue is the texts of one language.
type Catalogue struct {
	Language     string
	texts        map[string]string // translations by key
	built        *catalog.Builder  // the same, and English as far as it was asked for
	own, english *printer.Printer
	asked        sync.Map // keys of that English
}

// Tag is what stands for <1> and </1> in a text of a page: an element of it.
type Tag struct{ Begin, End template.HTML }

// HTML words a message for a page: all but its tags is escaped, and then put together at once.
func (c *Catalogue) HTML(m message.Message) template.HTML {
	return template.HTML(c.words(m, true)) // #nosec G203 -- words escapes
}

// Text words a message for what is no page, such as an answer to a script.
func (c *Catalogue) Text(m message.Message) string { return html.UnescapeString(c.words(m, false)) }

func (c *Catalogue) words(m message.Message, page bool) string {
	key, by := m.Key(), c.own
	if c.texts[key] == "" {
		by = c.english
		if _, built := c.asked.Load(key); !built {
			_ = set(c.built, language.English, key, c.inEnglish(key)) // M takes no forms that English lacks
			c.asked.Store(key, true)
		}
	}
	var args [29]any // what is put in for each mark, 10 behind it what ends it, and 20 behind it what counts
	for i := range 9 {
		args[i], args[10+i] = c.value(m.Arg(i+1), page)
		args[20+i] = m.Arg(i + 1)
	}
	return by.Sprintf(key, args[:]...)
}

// Months are named by their number.
var Months = []message.Message{nil,
	message.M("Jan"), message.M("Feb"), message.M("Mar"), message.M("Apr"), message.M("May"), message.M("Jun"),
	message.M("Jul"), message.M("Aug"), message.M("Sep"), message.M("Oct"), message.M("Nov"), message.M("Dec")}

// value is an argument as it is put into a text.
func (c *Catalogue) value(a any, page bool) (begin, end any) {
	switch a := a.(type) {
	case Tag:
		return string(a.Begin), string(a.End)
	case template.HTML: // which a function of the templates made
		return string(a), ""
	case message.Message:
		return c.words(a, page), ""
	case interface{ Date() (int, time.Month, int) }:
		y, m, d := a.Date()
		said := c.words(message.M("{1} {2} {3}##day, month, year", d, Months[m], y), page)
		if page {
			said = fmt.Sprintf(`<time datetime="%s" title="%[1]s">%s</time>`, a, said)
		}
		return said, ""
	}
	return template.HTMLEscapeString(fmt.Sprint(a)), ""
}

// inEnglish is a text that has no translation. In the pseudo-language each of its letters bears an accent.
func (c *Catalogue) inEnglish(text string) string {
	return letter.ReplaceAllStringFunc(text, func(s string) string {
		if c.Language == pseudo && len(s) == 1 {
			s += "\u0301"
		}
		return s
	})
}

const anyTag = `(/?(?:[1-9]|b|strong|em|code|kbd))`

var (
	letter, anyMark = regexp.MustCompile(`<` + anyTag + `>|[A-Za-z]`), regexp.MustCompile(`<` + anyTag + `>|\{[^}|]*`)
	bare            = regexp.MustCompile(`&lt;(/?(?:b|strong|em|code|kbd))&gt;`)
	open, shut      = regexp.MustCompile(`&lt;([1-9])&gt;`), regexp.MustCompile(`&lt;/([1-9])&gt;`)
)

// set puts a text into a catalogue, escaped for a page, its marks as numbered arguments, its plurals as variables.
func set(in *catalog.Builder, tag language.Tag, key, text string) (err error) {
	text = strings.NewReplacer("%", "%%", "$", "&#36;").Replace(template.HTMLEscapeString(text))
	text = shut.ReplaceAllString(open.ReplaceAllString(bare.ReplaceAllString(text, "<$1>"), "%[$1]s"), "%[1$1]s")
	var all []catalog.Message
	var put func(n int, words []string) string
	put = func(n int, words []string) string {
		var forms []any
		for i, w := range words {
			form, word, named := strings.Cut(w, ":")
			if !named { // English in short
				form, word = []string{"one", "other"}[i%2], w
			}
			forms = append(forms, form, message.Fill(word, put))
		}
		if forms == nil {
			return fmt.Sprintf("%%[%d]s", n)
		} else if !slices.Contains(forms, any("other")) {
			err = errors.New("words that go with a number need the form other, as in {1|one:kus|other:kusy}")
		}
		all = append(all, catalog.Var(strconv.Itoa(len(all)), plural.Selectf(20+n, "%d", forms...)))
		return "${" + strconv.Itoa(len(all)-1) + "}"
	}
	text = message.Fill(text, put)
	return cmp.Or(err, in.Set(tag, key, append(all, catalog.String(text))...))
}

// en.txt lists every text that pages say, one a line. A translation is a copy of it, named for its language, in which
// the line beneath a text begins with "= " and holds that text, with the same values and tags in any order, and plurals
// as in {1|one:kus|few:kusy|other:kusů}. A text without such a line stays English; "# " begins a remark.

//go:embed *.txt
var files embed.FS

// pseudo shows what went through a catalogue: each letter of ours bears an accent, and none that people typed.
const pseudo = "qps"

// Open reads the texts of a language: a tag such as "en", or a file named for one, such as "/etc/stowkeeper/nb.txt".
func Open(name string) (*Catalogue, error) {
	known, err := files.ReadFile("en.txt")
	var body []byte
	switch {
	case strings.ContainsAny(name, `./\`):
		body, err = os.ReadFile(name) // #nosec G304 -- the operator names it
	case name != "" && name != "en" && name != pseudo:
		body, err = files.ReadFile(name + ".txt")
	}
	if err != nil {
		return nil, fmt.Errorf("language: give one that the program has, or the path of a translation's file: %w", err)
	}
	return load(strings.TrimSuffix(filepath.Base(cmp.Or(name, "en")), ".txt"), string(body), string(known))
}

// load reads a translation. It refuses by its line what no page says, and what lost a value, a tag or the form other.
func load(name, body, known string) (*Catalogue, error) {
	tag, err := language.Parse(name)
	if err != nil {
		return nil, errors.New("language: name the file for its language, as in nb.txt or pt-BR.txt")
	}
	b := catalog.NewBuilder()
	c := &Catalogue{Language: name, texts: map[string]string{}, built: b,
		own: printer.NewPrinter(tag, printer.Catalog(b)), english: printer.NewPrinter(language.English, printer.Catalog(b))}
	key, keys := "", strings.Split(known, "\n")
	for i, line := range strings.Split(body, "\n") {
		said, translated := strings.CutPrefix(line, "= ")
		switch {
		case strings.TrimSpace(line) == "" || strings.HasPrefix(line, "# "):
		case !translated && (!slices.Contains(keys, line) || c.texts[line] != ""):
			err = errors.New(`no page says this, or it stood above: copy it from en.txt, and begin its translation with "= "`)
		case !translated:
			key = line
		case key == "":
			err = errors.New("a translation stands beneath its text, and no text stands above")
		case said == "" || !sameMarks(key, said):
			err = errors.New("it has to hold each {1} and <1>…</1> of its text, a tag closed after it is opened")
		default:
			err = cmp.Or(set(b, tag, Capital(key), Capital(said)), set(b, tag, key, said))
			c.texts[Capital(key)], c.texts[key], key = Capital(said), said, ""
		}
		if err != nil {
			return nil, fmt.Errorf("language: %s.txt: line %d: %w", name, i+1, err)
		}
	}
	return c, nil
}

// Capital is a text, never empty, as it begins a line; one that begins with a value or tag stays. en.txt has it once.
func Capital(text string) string {
	r := []rune(text)
	return string(append([]rune{unicode.ToTitle(r[0])}, r[1:]...))
}

// sameMarks tells whether a translation has the values and tags of its text, and closes each tag, last opened first.
func sameMarks(text, said string) bool {
	want, have := anyMark.FindAllString(text, -1), anyMark.FindAllString(said, -1)
	tags := strings.NewReplacer("</", "</_", "<", "<_").Replace(strings.Join(have, ""))
	nested := xml.Unmarshal([]byte("<_>"+tags+"</_>"), new(struct{})) == nil
	slices.Sort(want)
	slices.Sort(have)
	return nested && slices.Equal(slices.Compact(want), slices.Compact(have))
}

var inScript = regexp.MustCompile(`\bt\(("(?:[^"\\]|\\.)*")`)

// Script returns a script that says its texts, t("…"), in the language.
func (c *Catalogue) Script(body []byte) []byte {
	return inScript.ReplaceAllFunc(body, func(call []byte) []byte {
		var key string
		_ = json.Unmarshal(call[len("t("):], &key) // a string, as the pattern has it
		said, _ := json.Marshal(cmp.Or(c.texts[key], c.inEnglish(key)))
		return append([]byte("t("), said...)
	})
}

// Sum changes with the texts.
func (c *Catalogue) Sum() []byte { return fmt.Append(nil, c.Language, c.texts) }
