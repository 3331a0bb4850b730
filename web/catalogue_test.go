package web

import (
	"encoding/json"
	"flag"
	"html/template"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write text/en.txt anew")

// textsIn are all texts that pages say: of templates, scripts and Go.
func textsIn(t *testing.T) map[string]bool {
	t.Helper()
	texts := map[string]bool{}
	note := func(s string) { texts[s] = true }
	for _, ts := range parsed(t) {
		translate(ts, nil, note)
	}
	for _, pattern := range []string{"assets/*.js", "assets/modules/*.js"} {
		files, err := fs.Glob(assetFiles, pattern)
		require.NoError(t, err)
		for _, f := range files {
			body, err := assetFiles.ReadFile(f)
			require.NoError(t, err)
			for _, m := range inScript.FindAllSubmatch(body, -1) {
				var s string
				require.NoError(t, json.Unmarshal(m[1], &s), f)
				note(s)
			}
		}
	}
	for _, s := range monthTexts {
		note(s)
	}
	for _, folder := range folders(t) {
		goTexts(t, folder, note)
	}
	return texts
}

// folders are those whose Go words what pages show.
func folders(t *testing.T) []string {
	t.Helper()
	subjects, err := filepath.Glob("../inventory/*")
	require.NoError(t, err)
	silent := []string{"store", "secret", "table", "workbook", "verify", "inventorytest", "fixture"}
	subjects = slices.DeleteFunc(subjects, func(path string) bool { return slices.Contains(silent, filepath.Base(path)) })
	return append(subjects, ".", "../inventory", "../labels")
}

// The catalogue lists every text of pages, and none besides.
func TestCatalogueIsWhole(t *testing.T) {
	var lines []string
	for s := range textsIn(t) {
		require.NotContains(t, s, "\n")
		require.False(t, strings.HasPrefix(s, "# ") || strings.HasPrefix(s, "= "), s)
		lines = append(lines, s)
	}
	slices.Sort(lines)
	want := strings.Join(lines, "\n") + "\n"
	if *update {
		require.NoError(t, os.WriteFile("text/en.txt", []byte(want), 0o644))
	}
	have, err := os.ReadFile("text/en.txt")
	require.NoError(t, err)
	assert.Equal(t, want, string(have), "renew it: go test ./web -run Catalogue -update")
}

// accented writes a text so that no English is left in it: every letter bears
// a mark, and what stands for values stays.
func accented(text string) string {
	var out strings.Builder
	from := 0
	for _, m := range append(mark.FindAllStringIndex(text, -1), []int{len(text), len(text)}) {
		out.WriteString(strings.Map(accent, text[from:m[0]]))
		out.WriteString(text[m[0]:m[1]])
		from = m[1]
	}
	return out.String()
}

const plainLetters, accentLetters = "abcdefghijklmnopqrstuvwxyz",
	"àƀćďéƒĝĥíĵķĺɱńóƥɋŕśťúṽŵẋýź"

func accent(r rune) rune {
	i := strings.IndexRune(plainLetters, unicode.ToLower(r))
	if i < 0 {
		return r
	}
	to := []rune(accentLetters)[i]
	if unicode.IsUpper(r) {
		return unicode.ToUpper(to)
	}
	return to
}

// pseudo is a file with every text accented, in a language that nobody speaks.
func pseudo(t testing.TB) string {
	t.Helper()
	known, err := knownTexts()
	require.NoError(t, err)
	var b strings.Builder
	for s := range known {
		b.WriteString(s + "\n= " + accented(s) + "\n")
	}
	path := filepath.Join(t.TempDir(), "qps.txt")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	return path
}

// A translation that does not fit the texts is refused at start, by its line.
func TestTranslationRefused(t *testing.T) {
	known := map[string]bool{"Sign out": true, "{1} of <1>{2}</1>": true}
	for body, want := range map[string]string{
		"Sign out\n= Ab\nSign off\n= Ab":             "line 3: no page says this text",
		"# a remark\n\n= Ab":                         "line 3: a translation stands beneath its text",
		"Sign out\n= Ab\n= Weg":                      "line 3: a translation stands beneath its text",
		"Sign out\n= Ab {1}":                         "line 2: the translation has to hold the same",
		"{1} of <1>{2}</1>\n= <1>{1}</1>":            "line 2: the translation has to hold the same",
		"{1} of <1>{2}</1>\n= </1>{1} <1>{2}":        "line 2: the translation has to hold the same",
		"{1} of <1>{2}</1>\n= {1} {1} <1>{2}</1>":    "line 2: the translation has to hold the same",
		"{1} of <1>{2}</1>\n= <script>{1}<1>{2}</1>": "", // shown as it stands: see below
	} {
		_, err := readCatalogue("nb", body, known)
		if want == "" {
			require.NoError(t, err)
			continue
		}
		require.ErrorContains(t, err, want, body)
	}
	_, err := readCatalogue("nb!", "", known)
	require.ErrorContains(t, err, "name the file for its language")
	_, err = openCatalogue("nb")
	require.ErrorContains(t, err, "no translation")
	path := filepath.Join(t.TempDir(), "nb.txt")
	require.NoError(t, os.WriteFile(path, []byte("Sign in\n= {1}\n"), 0o600))
	_, err = openCatalogue(path)
	require.ErrorContains(t, err, "nb.txt: line 2")
}

// A translation reorders values, stays text, and leaves English what it lacks.
func TestTranslatedPage(t *testing.T) {
	c, err := readCatalogue("nb", "Sign in, <1>{1}</1> of {2}\n= <i>&{2}: <1>{1}</1>\n",
		map[string]bool{"Sign in, <1>{1}</1> of {2}": true})
	require.NoError(t, err)
	page := template.Must(template.New("layout").Funcs(funcs(assets{}, c)).Parse(
		`<p title="Lang {{.A}}">  Sign in,
<b class="{{.A}}">{{.A}}</b> of {{if .B}}{{.B}}{{end}}</p><p>Left</p>`))
	translate(page, c, func(string) {})
	var out strings.Builder
	require.NoError(t, page.Execute(&out, map[string]string{"A": "<a>", "B": "b"}))
	assert.Equal(t, `<p title="Lang &lt;a&gt;">  &lt;i&gt;&amp;b: <b class="&lt;a&gt;">&lt;a&gt;</b></p><p>Left</p>`,
		out.String())
}

// What is worded in Go is found as a whole, with its values, and in parts.
func TestSaidInAnotherLanguage(t *testing.T) {
	var texts strings.Builder
	known := map[string]bool{}
	for _, s := range []string{"{1}: {2} of {3}", "{1} of {2}", "must not go out", "Must not go out: {1}", "at {1}",
		"{1} must not go out until {2}", "usable through {1}", "Jun", "seal {1} set", "{1} gaps"} {
		known[s] = true
		texts.WriteString(s + "\n= " + accented(s) + "\n")
	}
	c, err := readCatalogue("nb", texts.String(), known)
	require.NoError(t, err)
	for text, want := range map[string]string{
		"Must not go out.":              "Ɱúśť ńóť ĝó óúť.",
		"ABC-1 must not go out until 5": "ABC-1 ɱúśť ńóť ĝó óúť úńťíĺ 5",
		"TQ: 1 of 2; seal 4711 set":     "TQ: 1 óƒ 2; śéàĺ 4711 śéť",
		"Must not go out: 3 gaps, XYZ":  "Ɱúśť ńóť ĝó óúť: 3 ĝàƥś, XYZ",
		"14 Jun 2027":                   "14 Ĵúń 2027",
		"whatever nobody listed":        "whatever nobody listed",
	} {
		assert.Equal(t, want, c.said(text))
	}
	assert.Equal(t,
		`úśàƀĺé ťĥŕóúĝĥ <time datetime="2027-06-14" title="2027-06-14">14 Ĵúń 2027</time> &lt;b&gt;`,
		string(c.saidHTML("usable through 2027-06-14 <b>")))
}
