package text

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	. "stowkeeper/inventory/message"
)

type day struct{}

func (day) String() string               { return "2027-06-14" }
func (day) Date() (int, time.Month, int) { return 2027, 6, 14 }

const known = `Sign out
Open##verb
{1} {1|unit|units}
{1|unit is|units are} left in {2}
{1} of <1>{2}</1>
See <1>version {2}</1> of <b>{3}</b>
100 % of $5 in ${x}
lent by {1}
{1} {2} {3}##day, month, year
Jun`

// in opens a translation of the texts above.
func in(t testing.TB, language, body string) *Catalogue {
	t.Helper()
	c, err := load(language, body, known)
	require.NoError(t, err)
	return c
}

var hostile = []string{"{1}", "%d", "%!s(MISSING)", "%[1]s", "${0}", "<b>", "&lt;", "$", "Sign out", "Open##verb",
	"a##b", "{1|a|b}", "\\", "“Lid”"}

// What people typed is put in as it is, and nothing in it is looked up.
func TestTypedTextSurvives(t *testing.T) {
	for _, c := range []*Catalogue{in(t, "en", ""), in(t, "nb",
		"See <1>version {2}</1> of <b>{3}</b>\n= <b>{3}</b>: <1>v{2}</1>"), in(t, pseudo, "")} {
		for _, typed := range hostile {
			page := string(c.HTML(M("See <1>version {2}</1> of <b>{3}</b>", Tag{`<a href="/x">`, "</a>"}, typed, typed)))
			assert.Equal(t, 2, strings.Count(page, escape(typed)), "%s: %s", typed, page)
			assert.Equal(t, typed, c.Text(Plain(typed)))
			assert.Equal(t, escape(typed), string(c.HTML(Join(", ", Plain(typed)))))
			assert.NotContains(t, strings.ReplaceAll(page, escape(typed), ""), "%!")
		}
	}
}

func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;").Replace(s)
}

func TestWords(t *testing.T) {
	en := in(t, "en", "")
	cs := in(t, "cs", `# a remark
{1} {1|unit|units}
= {1} {1|one:kus|few:kusy|other:kusů}

{1|unit is|units are} left in {2}
= {2}: {1|one:zbývá {1}|few:zbývají|other:zbývá} {1}
Sign out
= <Odhlásit> & %s 100 %
100 % of $5 in ${x}
= ${x} %d $
lent by {1}
= čeká u {1}
{1} {2} {3}##day, month, year
= {1}. {2} {3}
`)
	for _, x := range []struct {
		in    *Catalogue
		m     Message
		page  string
		plain string
	}{
		{en, nil, "", ""},
		{en, M("Open##verb"), "Open", "Open"},
		{en, M("{1} {1|unit|units}", 1), "1 unit", "1 unit"},
		{en, M("{1} {1|unit|units}", 123456), "123456 units", "123456 units"},
		{en, M("{1} {1|unit|units}", -1), "-1 unit", "-1 unit"},
		{en, M("{1|unit is|units are} left in {2}", 1, "Lid"), "unit is left in Lid", "unit is left in Lid"},
		{en, M("100 % of $5 in ${x}"), "100 % of &#36;5 in &#36;{x}", "100 % of $5 in ${x}"},
		{en, M("lost {1}, {2} {1|unit|units}"), "lost ,  units", "lost ,  units"},
		{en, M("too many", 1, "x"), "too many", "too many"},
		{en, M("{1}", int64(2026)), "2026", "2026"},
		{en, M("{1}: {2}", M("{1} {1|unit|units}", 1), M("Sign out")), "1 unit: Sign out", "1 unit: Sign out"},
		{en, M("expired {1}", day{}), `expired <time datetime="2027-06-14" title="2027-06-14">14 Jun 2027</time>`,
			"expired 14 Jun 2027"},
		{cs, M("{1} {1|unit|units}", 1), "1 kus", "1 kus"},
		{cs, M("{1} {1|unit|units}", 3), "3 kusy", "3 kusy"},
		{cs, M("{1} {1|unit|units}", 22000), "22000 kusů", "22000 kusů"},
		{cs, M("{1|unit is|units are} left in {2}", 2, "<Lid>"), "&lt;Lid&gt;: zbývají 2", "<Lid>: zbývají 2"},
		{cs, M("Sign out"), "&lt;Odhlásit&gt; &amp; %s 100 %", "<Odhlásit> & %s 100 %"},
		{cs, M("100 % of $5 in ${x}"), "&#36;{x} %d &#36;", "${x} %d $"},
		{cs, M("lent by {1}", "anna"), "čeká u anna", "čeká u anna"},
		{cs, M("Lent by {1}", "anna"), "Čeká u anna", "Čeká u anna"},
		{cs, M("Lid {1} {1|unit|units}", 1), "Lid 1 unit", "Lid 1 unit"},
		{cs, M("{1}", day{}), `<time datetime="2027-06-14" title="2027-06-14">14. Jun 2027</time>`, "14. Jun 2027"},
	} {
		assert.Equal(t, x.page, string(x.in.HTML(x.m)))
		assert.Equal(t, x.plain, x.in.Text(x.m))
	}
}

// In the pseudo-language no two letters of ours stand together.
func TestPseudo(t *testing.T) {
	c, err := Open(pseudo)
	require.NoError(t, err)
	assert.Equal(t, "S\u0301e\u0301e\u0301 <a href=\"/x\">v\u0301 Typed</a> &lt;x\u0301 <b>&amp;</b> 2 u\u0301s\u0301",
		string(c.HTML(M("See <1>v {2}</1> <x <b>&</b> {3} {3|u|us}##note", Tag{`<a href="/x">`, "</a>"}, "Typed", 2))))
	assert.NotRegexp(t, regexp.MustCompile(`[A-Za-z]{2}`), c.Text(M("{1}: {2}##x", M("unit"), day{})))
	assert.Equal(t, "t(\"o\u0301n\u0301e\u0301 {1}\", n)", string(c.Script([]byte(`t("one {1}", n)`))))
}

// A translation that does not fit the texts is refused at start, by its line.
func TestRefused(t *testing.T) {
	for body, want := range map[string]string{
		"Sign out\n= Ab\nSign off\n= Ab":                               "line 3: no page says this",
		"Sign out\n= Ab\n\nSign out\n= Ab":                             "line 4: no page says this, or it stood above",
		"# a remark\n\n= Ab":                                           "line 3: a translation stands beneath its text",
		"Sign out\n= Ab\n= Weg":                                        "line 3: a translation stands beneath its text",
		"Sign out\n= Ab {1}":                                           "line 2: it has to hold each {1}",
		"{1} of <1>{2}</1>\n= <1>{1}</1>":                              "line 2: it has to hold each {1}",
		"{1} of <1>{2}</1>\n= </1>{1} <1>{2}":                          "line 2: it has to hold each {1}",
		"{1} of <1>{2}</1>\n= <1>{2}</1> {1}x":                         "",
		"See <1>version {2}</1> of <b>{3}</b>\n= <1>{2}<b></1>{3}</b>": "line 2: it has to hold each {1}",
		"{1} {1|unit|units}\n= {1} {1|one:Teil}": "line 2: words that go with a number need the " +
			"form other",
		"{1} {1|unit|units}\n= {1} {1|one:Teil|few:x|other:Teile}": "line 2: plural: " +
			`form "few" not supported for language "de"`,
		"{1} {1|unit|units}\n= {1} {1|eins:Teil|other:Teile}": `line 2: plural: invalid plural form "eins"`,
		"{1} {1|unit|units}\n= {1} {1|Teil|Teile}":            "",
		"{1} {1|unit|units}\n= {1|one:Teil|other:Teile}":      "",
		"{1} {1|unit|units}\n= Teile":                         "line 2: it has to hold each {1}",
		"Sign out\n= ":                                        "line 2: ",
	} {
		_, err := load("de", body, known)
		if want == "" {
			assert.NoError(t, err, body)
		} else {
			assert.ErrorContains(t, err, want, body)
		}
	}
	_, err := load("nb!", "", known)
	require.ErrorContains(t, err, "name the file for its language")
	_, err = Open("nb")
	require.ErrorContains(t, err, "give one that the program has")
	path := filepath.Join(t.TempDir(), "nb.txt")
	require.NoError(t, os.WriteFile(path, []byte("Sign in\n= {1}\n"), 0o600))
	_, err = Open(path)
	require.ErrorContains(t, err, "nb.txt: line 2")
}

func TestScript(t *testing.T) {
	c := in(t, "nb", "Sign out\n= Logg \"ut\"\n{1} {1|unit|units}\n= {1} {1|one:del|other:deler}\n")
	assert.Equal(t, `t("Logg \"ut\""), t("{1} {1|one:del|other:deler}", n), t("Left"), at("Sign out"), t(text)`,
		string(c.Script([]byte(`t("Sign out"), t("{1} {1|unit|units}", n), t("Left"), at("Sign out"), t(text)`))))
	assert.NotEqual(t, c.Sum(), in(t, "nb", "").Sum())
	assert.NotEqual(t, in(t, "en", "").Sum(), in(t, pseudo, "").Sum())
}

// One catalogue serves all requests.
func TestAtOnce(t *testing.T) {
	c := in(t, "en", "")
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for _, key := range strings.Split(known, "\n") {
				assert.NotContains(t, string(c.HTML(M(key, 1, 2, 3))), "{1}")
			}
		})
	}
	all.Wait()
}

func BenchmarkHTML(b *testing.B) {
	c := in(b, "en", "")
	m := M("{1|unit is|units are} left in {2}", 3, "Lid & co")
	for b.Loop() {
		c.HTML(m)
	}
}

// FuzzCatalogue: whatever stands in a translation's file, it is refused by its line, or every text of it can be said
// with what people typed in it as it is.
func FuzzCatalogue(f *testing.F) {
	f.Add("Sign out\n= Logg ut", "x")
	f.Add("{1|unit is|units are} left in {2}\n= {2}: {1|a|b} {1}", "{1}")
	f.Add("See <1>version {2}</1> of <b>{3}</b>\n= <b>{3}</b><1>{2}</1>", "<b>")
	f.Fuzz(func(t *testing.T, body, typed string) {
		c, err := load("nb", body, known)
		if err != nil {
			assert.Contains(t, err.Error(), "language: ")
			return
		}
		for text := range strings.SplitSeq(known, "\n") {
			m := M(text, 2, typed, 3)
			assert.NotPanics(t, func() { c.HTML(m) })
			whole := utf8.ValidString(typed) && !strings.ContainsRune(typed, 0) // as all is that people typed
			if whole && strings.Contains(text, "{2}") && !strings.Contains(text, "<") {
				assert.Contains(t, c.Text(m), typed, "%q", text)
			}
		}
	})
}
