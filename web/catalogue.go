package web

import (
	"bufio"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// text/en.txt lists every text that pages say, one a line; the English is its
// own key. A translation is a copy of it, named for its language, in which the
// line beneath a text begins with "= " and holds that text in the language. A
// text without such a line stays English. In a text, {1} stands for a value
// and <1>…</1> for a link or emphasis; a translation has each of them, in any
// order.

//go:embed text
var textFiles embed.FS

const english = "en"

// catalogue is the texts of pages in one language. The nil catalogue is
// English.
type catalogue struct {
	language string
	texts    map[string]string // by the English
	patterns []pattern         // the texts with values in them, the most telling first
	memory   memory
}

// openCatalogue reads the texts of a language: a tag such as "en", or the path
// of a file named for one, such as "/etc/stowkeeper/nb.txt".
func openCatalogue(language string) (*catalogue, error) {
	if language == "" || language == english {
		return nil, nil
	}
	read := func() ([]byte, error) { return textFiles.ReadFile("text/" + language + ".txt") }
	if strings.ContainsAny(language, `./\`) {
		read = func() ([]byte, error) { return os.ReadFile(language) }
	}
	body, err := read()
	if errors.Is(err, fs.ErrNotExist) {
		return nil,
			fmt.Errorf("language: no translation %q: give a language that the program has, or the path of a translation's file",
				language)
	}
	if err != nil {
		return nil, fmt.Errorf("language: %w", err)
	}
	known, err := knownTexts()
	if err != nil {
		return nil, err
	}
	c, err := readCatalogue(strings.TrimSuffix(filepath.Base(language), ".txt"), string(body), known)
	if err != nil {
		return nil, fmt.Errorf("language: %s: %w", language, err)
	}
	return c, nil
}

// knownTexts are the keys: the lines of text/en.txt.
func knownTexts() (map[string]bool, error) {
	body, err := textFiles.ReadFile("text/" + english + ".txt")
	known := map[string]bool{}
	for line := range strings.Lines(string(body)) {
		known[strings.TrimSuffix(line, "\n")] = true
	}
	return known, err
}

var languageTag = regexp.MustCompile(`^[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*$`)

// readCatalogue reads a translation, refusing by its line what no page says
// and what has lost or gained a value.
func readCatalogue(language, body string, known map[string]bool) (*catalogue, error) {
	if !languageTag.MatchString(language) {
		return nil, errors.New("name the file for its language, as in nb.txt or pt-BR.txt")
	}
	c := &catalogue{language: language, texts: map[string]string{}}
	key, no := "", 0
	lines := bufio.NewScanner(strings.NewReader(body))
	for lines.Scan() {
		line := lines.Text()
		no++
		said, translated := strings.CutPrefix(line, "= ")
		switch {
		case strings.TrimSpace(line) == "" || strings.HasPrefix(line, "# "):
		case !translated && !known[line]:
			return nil,
				fmt.Errorf("line %d: no page says this text; copy it from text/en.txt, and begin its translation with \"= \"", no)
		case !translated:
			key = line
		case key == "":
			return nil, fmt.Errorf("line %d: a translation stands beneath its text, and no text stands above", no)
		case !slices.Equal(marksIn(key), marksIn(said)) || !nested(said):
			return nil, fmt.Errorf("line %d: the translation has to hold the same of {1} and <1>…</1> as its text, each "+
				"once, a tag closed after it is opened", no)
		default:
			c.texts[key], key = said, ""
		}
	}
	c.patterns = patternsOf(c.texts)
	return c, lines.Err()
}

// mark is a place in a text: a value, or the beginning or end of a tag.
var mark = regexp.MustCompile(`\{(\d+)\}|<(/?)(\d+)>`)

// marksIn lists the marks of a text in one order, whatever theirs is.
func marksIn(text string) []string {
	found := mark.FindAllString(text, -1)
	slices.Sort(found)
	return found
}

// nested tells whether each tag is closed, the last opened first.
func nested(text string) bool {
	var open []string
	for _, m := range mark.FindAllStringSubmatch(text, -1) {
		switch {
		case m[1] != "":
		case m[2] == "":
			open = append(open, m[3])
		case len(open) == 0 || open[len(open)-1] != m[3]:
			return false
		default:
			open = open[:len(open)-1]
		}
	}
	return len(open) == 0
}

// tag is the language for a page's lang attribute.
func (c *catalogue) tag() string {
	if c == nil {
		return english
	}
	return c.language
}

// text returns the translation of a text, if there is one.
func (c *catalogue) text(key string) (string, bool) {
	if c == nil {
		return "", false
	}
	said, ok := c.texts[key]
	return said, ok
}

// inScript is a text that a script says: t("…").
var inScript = regexp.MustCompile(`\bt\(("(?:[^"\\]|\\.)*")`)

// script returns a script whose texts are in the catalogue's words.
func (c *catalogue) script(body []byte) []byte {
	if c == nil {
		return body
	}
	return inScript.ReplaceAllFunc(body, func(call []byte) []byte {
		var key string
		if json.Unmarshal(call[len("t("):], &key) != nil {
			return call
		}
		said, ok := c.texts[key]
		if !ok {
			return call
		}
		literal, _ := json.Marshal(said) // a string always can be written
		return append([]byte("t("), literal...)
	})
}
