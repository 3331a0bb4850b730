package main

import (
	"cmp"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// losing is one thing that has one word in all that people read: the word that lost, as an example, and what wins.
type losing struct {
	word, instead string
	re            *regexp.Regexp
	except        []allowed
}

// allowed is a stretch of text in which a losing word means something else, in one area or in all of them.
type allowed struct{ area, in, why string }

func lost(word, instead, re string, except ...allowed) losing {
	return losing{word, instead, regexp.MustCompile(`(?i)` + re), except}
}

// losingWords is the table of words. Code, names of columns and fields of the API may say lot and movement; texts
// beside them say what people see.
var losingWords = []losing{
	lost("lot", "batch, units, or the API's lot_id", `\blots?\b`,
		allowed{"", "Lot, serial; default: lot", "values of the column tracked_by"},
		allowed{"columns", "the table lots", "the name of a table"}),
	lost("site", "station", `\bsites?\b`, allowed{"pages", "settings for this site", "a web site"}),
	lost("ledger", "records, stock history", `\bledgers?\b`),
	lost("posted", "accepted, recorded", `\bpost(s|ed|ings?)?\b`, allowed{"", `\bPOST\b`, "the method of HTTP"}),
	lost("movement", "record, stock history", `\bmovements?\b`,
		allowed{"openapi", `\bmovements?\b`, "a resource of the API"},
		allowed{"columns", `\bmovements?\b`, "a table of the export"}),
	lost("mend", "correct, change, check", `\bmend(s|ed|ing)?\b`),
	lost("anew", "again", `\banew\b`),
	lost("waits here", "to review; not sent yet", `\bwait(s|ing)\b`),
	lost("kept whole", "to review", `\bkept whole\b`),
	lost("dismissed", "rejected", `\bdismiss(ed|es|ing)?\b`),
	lost("taken off", "out of service", `\b(tak(e|en|es|ing)|took)\b[^.;:]{0,15}\boff\b`),
	lost("off the run", "out of service", `\b(on|off) the run\b`),
	lost("must not go out", "do not use: …; not ready", `\b(must|may|can)( not)? go out\b`),
	lost("if any", "(optional)", `\bif any\b`),
	lost("left out", "default: …", `\bleft out\b`),
	lost("no longer usable since", "expired (use by …)", `\bno longer usable\b`),
	lost("past its last usable day", "expired; use by", `\blast usable day\b`),
	lost("usable through", "use by", `\busable through\b`),
	lost("asked for", "needs; at least", `\bask(s|ed) for\b`,
		allowed{"readme", "asks for (the PIN|no patient data)", "it asks a person"}),
	lost("bears", "has", `\bbears?\b`),
	lost("lies", "is", `\blies?\b`),
	lost("stands", "is", `\bstands?\b`),
	lost("of no use", "cannot be used", `\bof no use\b`),
	lost("also to see to", "other tasks", `\bto see to\b`),
	lost("deed", "history entry", `\bdeeds?\b`),
}

// used returns the stretch of a text that uses a losing word; "" for none.
func (l losing) used(area, text string) string {
	for _, a := range l.except {
		if a.area == "" || a.area == area {
			text = regexp.MustCompile(a.in).ReplaceAllString(text, "")
		}
	}
	return l.re.FindString(text)
}

// TestLosingWords: one word for one thing, in all that people read.
func TestLosingWords(t *testing.T) {
	for _, l := range losingWords {
		require.NotEmpty(t, l.re.FindString(l.word), "%s: the pattern does not find its own word", l.word)
		for _, a := range l.except {
			require.NotEmpty(t, a.why, "%s: %s", l.word, a.in)
		}
	}
	for _, a := range []struct {
		name  string
		texts []string
	}{
		{"pages", pageTexts(t)},
		{"labels", literals(t, root+"/labels")},
		{"columns", columnTexts(t)},
		{"command line", literals(t, ".")},
		{"readme", readmeTexts(t)},
		{"openapi", openAPITexts(t)},
	} {
		t.Run(a.name, func(t *testing.T) {
			require.Greater(t, len(a.texts), 10)
			var found []string
			for _, l := range losingWords {
				for _, text := range a.texts {
					if word := l.used(a.name, text); word != "" {
						found = append(found, strconv.Quote(word)+" (say: "+l.instead+") in "+strconv.Quote(text))
					}
				}
			}
			assert.Empty(t, strings.Join(found, "\n"))
		})
	}
}

func lines(t *testing.T, path string) []string {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return strings.Split(string(b), "\n")
}

// pageTexts is the catalogue: what templates, scripts and rules say, one text a line.
func pageTexts(t *testing.T) []string {
	return slices.DeleteFunc(lines(t, root+"/web/text/en.txt"), func(s string) bool { return s == "" || s[0] == '#' })
}

// columnTexts is the README of an export, without the names of tables and columns.
func columnTexts(t *testing.T) []string {
	folder := filepath.Join(t.TempDir(), "export")
	o := stowkeeper(t, "export", "--db", smallDatabase(t), folder)
	require.Zero(t, o.code, o.err)
	name := regexp.MustCompile(`^[a-z-]+: |^  [a-z_]+ \([^)]*\): `)
	var texts []string
	for _, s := range lines(t, filepath.Join(folder, "README.txt")) {
		texts = append(texts, name.ReplaceAllString(s, ""))
	}
	return texts
}

// readmeTexts is README.md by paragraph and row, without code; of commands, what stands after #.
func readmeTexts(t *testing.T) []string {
	code := regexp.MustCompile("`[^`]*`")
	var texts []string
	fenced, open := false, false // open: the next line goes on
	for _, s := range lines(t, root+"/README.md") {
		switch {
		case strings.HasPrefix(s, "```"):
			fenced, open = !fenced, false
		case fenced:
			_, said, _ := strings.Cut(s, "# ")
			texts = append(texts, said)
		case open && s != "" && !strings.ContainsAny(s[:1], "-|#>"):
			texts[len(texts)-1] += " " + s
		default:
			texts, open = append(texts, s), s != ""
		}
	}
	for i := range texts {
		texts[i] = code.ReplaceAllString(texts[i], "")
	}
	return slices.DeleteFunc(texts, func(s string) bool { return strings.TrimSpace(s) == "" })
}

// openAPITexts is every description and summary of the API's document.
func openAPITexts(t *testing.T) []string {
	b, err := os.ReadFile(root + "/api/testdata/openapi.json")
	require.NoError(t, err)
	var document any
	require.NoError(t, json.Unmarshal(b, &document))
	var texts []string
	var walk func(any)
	walk = func(x any) {
		switch x := x.(type) {
		case map[string]any:
			for k, v := range x {
				if s, is := v.(string); is && (k == "description" || k == "summary") {
					texts = append(texts, s)
				}
				walk(v)
			}
		case []any:
			for _, v := range x {
				walk(v)
			}
		}
	}
	walk(document)
	slices.Sort(texts)
	return slices.Compact(texts)
}

// literals is what a package says in its own source: texts of more than one word, and the help of options.
func literals(t *testing.T, folder string) []string {
	files, err := filepath.Glob(folder + "/*.go")
	require.NoError(t, err)
	var texts []string
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		require.NoError(t, err)
		ast.Inspect(tree, func(n ast.Node) bool {
			l, is := n.(*ast.BasicLit)
			if !is || l.Kind != token.STRING {
				return true
			}
			s, err := strconv.Unquote(l.Value)
			require.NoError(t, err)
			if s = cmp.Or(reflect.StructTag(s).Get("help"), s); strings.Contains(s, " ") {
				texts = append(texts, s)
			}
			return true
		})
	}
	return texts
}
