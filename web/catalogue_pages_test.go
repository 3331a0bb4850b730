package web

import (
	"bytes"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// plainWord is a word of the letters that no pseudo-translation has.
var plainWord = regexp.MustCompile(`[A-Za-z]{2,}`)

// lasting are words that stay as they are in every language.
var lasting = []string{
	"Stowkeeper",                               // the program's name
	"GTIN", "HIBC", "PIN", "CSV", "PDF", "EXP", // names of standards and what packs print
	"mm", "cm", // units of measure
}

// plainWords are the English words that a page shows or says.
func plainWords(t *testing.T, body string, data []string) []string {
	t.Helper()
	doc, err := html.ParseWithOptions(strings.NewReader(body), html.ParseOptionEnableScripting(false))
	require.NoError(t, err)
	var out []string
	look := func(text string) {
		left := text
		for _, d := range data {
			left = strings.ReplaceAll(left, d, "·")
		}
		for _, w := range plainWord.FindAllString(left, -1) {
			if !slices.Contains(lasting, w) {
				out = append(out, w+" in "+strings.Join(strings.Fields(text), " "))
			}
		}
	}
	walk(doc, func(n *html.Node) bool {
		switch n.Type {
		case html.TextNode:
			look(n.Data)
		case html.ElementNode:
			if slices.Contains([]string{"script", "style", "textarea", "code"}, n.Data) {
				return false
			}
			for _, a := range n.Attr {
				if slices.Contains(readAttrs, a.Key) && !isoTime.MatchString(a.Val) {
					look(a.Val)
				}
			}
		}
		return true
	})
	return out
}

var isoTime = regexp.MustCompile(`^\d{4}-\d\d-\d\d`)

// Every word of every template is in the catalogue, on whichever branch it
// stands.
func TestEveryBranchInAnotherLanguage(t *testing.T) {
	c, err := openCatalogue(pseudo(t))
	require.NoError(t, err)
	a, err := loadAssets(c)
	require.NoError(t, err)
	ts, err := parseTemplates(a, c)
	require.NoError(t, err)
	for _, p := range allPages() {
		for _, yes := range []bool{true, false} {
			fill(reflect.ValueOf(p).Elem(), yes, 0)
			body, err := ts.execute(p)
			require.NoError(t, err, "%T", p)
			checkPage(t, p, string(body))
			assert.Contains(t, string(body), `<html lang="qps">`)
			assert.Empty(t, plainWords(t, string(body), []string{"<fill>", "fill"}), "%T, %v", p, yes)
		}
	}
}

// The world's own words: what its people typed in.
var worldData = []string{
	"Tablet", "Kim Crew", "Jo Crew", "Lee Crew", "Quinn Master", "Max Manager", "Ada Ministrator", "Central station",
	"North station",
	"Tourniquet, windlass, adult", "Permanent marker", "Record card", "Pressure dressing, large",
	"Plain dressing, 10 × 10 cm",
	"Gloves, pair", "Shears", "Pain relief tablets, pack", "Tourniquet, training", "Traction splint", "Eyewash bottle",
	"Controlled ampoule", "Pulse oximeter", "Example Supplies", "Trauma bag north", "Spare trauma bag", "Trauma bag",
	"Medicine pouch north",
	"Medicine pouch", "Red pouch", "Blue pouch", "Lid", "the medicine bag", "zip torn, at the saddler's", "Vehicle 0",
	"straightens", "padding whole", "Straightens", "Padding whole", "bag there", "TRAINTQ", "GLOVES", "PRESS", "PLAIN",
	"SHEARS", "SPLINT", "TRAUMA", "MARK", "CARD",
	"Central station training quarantine", "North station training quarantine", "Central station training store",
	"North station training store",
	"Central station quarantine", "North station quarantine", "Central station store", "North station store", "each",
	"ampoule",
}

var codes = regexp.MustCompile(`\b(CEN|NOR)(-[A-Z0-9-]+)?\b|\b(TQ|PAIN|EYE|AMP|OX|MEDS|PD-10)\b`)

// Whatever a page of a working service says, it says in the language of its
// translation: no English is left besides what people typed in.
func TestPagesInAnotherLanguage(t *testing.T) {
	w := newWorld(t)
	opt := w.options()
	opt.Language = pseudo(t)
	s, err := newServer(w.svc, opt)
	require.NoError(t, err)
	slices.SortFunc(worldData, func(a, b string) int { return len(b) - len(a) })
	english := map[string]string{} // the words left, with where
	look := func(c *client) {
		if c.res.Code/100 == 3 || !strings.HasPrefix(c.res.Header().Get("Content-Type"), "text/html") {
			return
		}
		for _, word := range plainWords(t, codes.ReplaceAllString(c.res.Body.String(), "·"), worldData) {
			english[word] = c.path
		}
	}
	seen := map[string]bool{}
	for _, name := range []string{"Quinn Master", "Kim Crew", "Max Manager"} {
		c := w.as(name)
		c.handler = handlerOf(t, s)
		crawl(c, look, seen)
	}
	assert.Greater(t, len(seen), 60, "pages and forms looked at")
	for word, path := range english {
		t.Errorf("%s: %s", path, word)
	}
}

var digits = regexp.MustCompile(`\d+|%[0-9A-F]{2}`)

// crawl looks at each kind of page that links lead to, then sends each kind of
// form as it stands.
func crawl(c *client, look func(*client), seen map[string]bool) {
	var forms [][2]string
	next := []string{"/", "/board", "/scanner", "/no-such-page", "/b/CEN-99"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		kind := path
		if strings.Count(path, "/") > 1 || strings.Contains(path, "?") {
			kind = digits.ReplaceAllString(path, "0")
		}
		if seen[kind] {
			continue
		}
		seen[kind] = true
		look(c.get(path))
		if to := c.location(); to != "" {
			next = append(next, to)
			continue
		}
		doc, err := html.Parse(bytes.NewReader(c.res.Body.Bytes()))
		require.NoError(c.t, err)
		walk(doc, func(n *html.Node) bool {
			if n.Type == html.ElementNode && n.Data == "a" {
				if href, _ := attr(n, "href"); strings.HasPrefix(href, "/") && !strings.HasPrefix(href, "/api/") {
					next = append(next, href)
				}
			}
			if action, ok := attr(n, "action"); ok && n.Data == "form" && action != "/sign-out" {
				forms = append(forms, [2]string{path, action})
			}
			return true
		})
	}
	for _, f := range forms {
		kind := "form " + digits.ReplaceAllString(f[1], "0")
		if seen[kind] {
			continue
		}
		seen[kind] = true
		send(c, f[0], f[1], look)
	}
}

// send sends a form of a page as it stands, and then with nothing filled in.
func send(c *client, page, action string, look func(*client)) {
	for _, empty := range []bool{false, true} {
		if !strings.Contains(c.get(page).res.Body.String(), `action="`+html.EscapeString(action)+`"`) {
			return // what was sent before took it away
		}
		to, values := c.form(action)
		for name := range values {
			if empty && name != "key" && name != "position" {
				values.Set(name, "")
			}
		}
		look(c.post(to, values))
		if strings.HasPrefix(c.location(), "/") {
			look(c.follow())
		}
	}
}
