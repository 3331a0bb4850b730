package web

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/web/text"
)

// The pseudo-language qps puts an accent behind each letter of ours, and behind
// none that people typed: two letters that stand together are a word that went
// through no catalogue, or one that somebody typed.

const accent = "\u0301"

// lasting are words that stay as they are in every language.
var lasting = []string{
	"Stowkeeper",                               // the program's name
	"GTIN", "HIBC", "PIN", "CSV", "PDF", "EXP", // names of standards and what packs print
	"mm", "cm", "pt", // units of measure
}

var plainWord, isoTime = regexp.MustCompile(`[A-Za-z]{2,}`), regexp.MustCompile(`^\d{4}-\d\d-\d\d`)

// readAttrs are the attributes that people read or hear. A script shows
// data-keep, the stylesheet data-l.
var readAttrs = []string{"aria-label", "title", "placeholder", "alt", "data-keep", "data-l"}

// visible lists what a page shows or says, one text after the other.
func visible(t *testing.T, body string) []string {
	t.Helper()
	doc, err := html.ParseWithOptions(strings.NewReader(body), html.ParseOptionEnableScripting(false))
	require.NoError(t, err)
	var out []string
	add := func(s string) {
		if s = strings.Join(strings.Fields(s), " "); s != "" {
			out = append(out, s)
		}
	}
	walk(doc, func(n *html.Node) bool {
		switch n.Type {
		case html.TextNode:
			add(n.Data)
		case html.ElementNode:
			if slices.Contains([]string{"script", "style", "textarea", "code"}, n.Data) {
				return false
			}
			for _, a := range n.Attr {
				if slices.Contains(readAttrs, a.Key) && !isoTime.MatchString(a.Val) {
					add(a.Val)
				}
			}
		}
		return true
	})
	return out
}

// plainWords are the texts with words that bear no accents, besides data.
func plainWords(texts, data []string) []string {
	var out []string
	for _, s := range texts {
		left := codes.ReplaceAllString(s, "·")
		for _, d := range append(data, lasting...) {
			left = strings.ReplaceAll(left, d, "·")
		}
		if words := plainWord.FindAllString(left, -1); words != nil {
			out = append(out, strings.Join(words, " ")+" in: "+s)
		}
	}
	return out
}

func inPseudo(t *testing.T) *text.Catalogue {
	t.Helper()
	c, err := text.Open("qps")
	require.NoError(t, err)
	return c
}

// Every word of every template is in the catalogue, on whichever branch it
// stands.
func TestEveryBranchInPseudo(t *testing.T) {
	c := inPseudo(t)
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
			assert.Contains(t, string(body)[:100], `<html lang="qps"`)
			assert.Empty(t, plainWords(visible(t, string(body)), []string{"<fill>"}), "%T, %v", p, yes)
		}
	}
	scripts := map[string][]byte{} // as they are before they are made short, since any name may be t after that
	for _, name := range []string{"scan.js", "label.js"} {
		scripts[name], err = assetFiles.ReadFile("assets/" + name)
		require.NoError(t, err)
	}
	scripts["page.js"], err = pack(assetFiles, "assets/modules", "page.js")
	require.NoError(t, err)
	for name, body := range scripts {
		for _, m := range regexp.MustCompile(`\bt\("((?:[^"\\]|\\.)*)"`).FindAllSubmatch(c.Script(body), -1) {
			assert.Empty(t, plainWords([]string{string(m[1])}, nil), name)
		}
	}
}

// hostile is what people of the world typed to vex a catalogue: names equal to
// our own words, and marks of texts.
var hostile = []string{"Dressing (open)", "Board", "see Lot 12 at Harbour", "{1} {1|unit|units}", "%d of %!s(MISSING)",
	"<b>Bags</b>", "Not ready", "Sign out", "To review##verb", "crew", "expired 24 Nov 2026", "Open", "other"}

func (w *world) typeHostile() {
	ctx := context.Background()
	do := func(_ any, err error) { w.t.Helper(); require.NoError(w.t, err) }
	item := func(code, name string) {
		do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: code, Name: name, Category: inventory.CategoryOther,
			Unit: "Open", TrackedBy: inventory.ByLot}))
	}
	item("DRO", "Dressing (open)")
	item("ONE", "{1} {1|unit|units}")
	item("DEE", "%d of %!s(MISSING)")
	item("BEE", "<b>Bags</b>")
	do(w.svc.Lists.CreateKitList(ctx, admin, inventory.KitList{Code: "VEX", Name: "To review##verb", Sealed: true,
		Lines: []inventory.Line{{Item: "DRO", Pouch: "Board", Par: 2, Minimum: 1}, {Item: "ONE", Pouch: "Sign out", Par: 1,
			Minimum: 1}, {Item: "DEE", CarriedElsewhere: "crew"}, {Item: "BEE", Par: 1}}}))
	do(w.svc.Lists.CreateBag(ctx, admin, inventory.Bag{Code: "CEN-09", Station: "CEN", Name: "Not ready",
		Vehicle: "<b>Bags</b>", KitList: "VEX", Priority: 3}))
	w.receive("DRO", "Open", "", 9)
	w.receive("ONE", "", "", 9)
	restock := func(item string, n int) {
		do(w.svc.Storeroom.RecordRestock(ctx, admin, inventory.Restock{Bag: "CEN-09", SealSet: "777",
			Lines: []inventory.RestockLine{{LotID: w.lots[item], Qty: n, From: "CEN-STORE"}}}, 0))
	}
	restock("DRO/Open", 1)
	c, err := w.svc.Shift.Checklist(ctx, admin, "CEN-09", lists.Outlook{})
	require.NoError(w.t, err)
	restock("DRO/Open", 1)
	restock("ONE/", 1)
	x, err := w.svc.Shift.RecordCheck(ctx, admin, inventory.Check{Bag: "CEN-09", Kind: inventory.FullCheck,
		SeenPosition: c.Bag.Position, Note: "see Lot 12 at Harbour", Lines: []inventory.CheckLine{
			{LotID: w.lots["DRO/Open"], Counted: 1}}}, "vex")
	do(x, err)
	require.Equal(w.t, inventory.StatusToReview, x.Status)
	do(w.svc.Shift.RecordUse(ctx, admin, inventory.Use{Bag: "CEN-09", Incident: "other", Note: "expired 24 Nov 2026",
		Lines: []inventory.UseLine{{LotID: w.lots["DRO/Open"], Qty: 5}}}, "vex use"))
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
	"straightens", "padding whole", "bag there", "TRAINTQ", "GLOVES", "PRESS", "PLAIN",
	"SHEARS", "SPLINT", "TRAUMA", "MARK", "CARD",
	"Central station training quarantine", "North station training quarantine", "Central station training store",
	"North station training store",
	"Central station quarantine", "North station quarantine", "Central station store", "North station store", "each",
	"ampoule",
}

var codes = regexp.MustCompile(`\b(CEN|NOR)(-[A-Z0-9-]+)?\b|\b(TQ|PAIN|EYE|AMP|OX|MEDS|PD-10|DRO|ONE|DEE|BEE|VEX)\b`)

// Whatever a page of a working service says, it says in the language of its
// translation: no English is left besides what people typed in, and that is as
// they typed it, on every page that the same service in English has it on.
func TestPagesInPseudo(t *testing.T) {
	w := newWorld(t)
	w.typeHostile()
	opt := w.options()
	opt.Language = "qps"
	s, err := newServer(w.svc, opt)
	require.NoError(t, err)
	data := append(slices.Clone(worldData), hostile...)
	for _, r := range traumaList().Rules {
		data = append(data, r.Because)
	}
	slices.SortFunc(data, func(a, b string) int { return len(b) - len(a) })
	left, altered, typed := map[string]string{}, map[string]string{}, map[string]bool{}
	look := func(c *client) {
		if c.res.Code/100 == 3 || !strings.HasPrefix(c.res.Header().Get("Content-Type"), "text/html") {
			return
		}
		texts := visible(t, c.res.Body.String())
		for _, word := range plainWords(texts, data) {
			left[word] = c.path
		}
		if c.asked.Method != http.MethodGet {
			return
		}
		inEnglish := visible(t, w.seenBy(c))
		if strings.Join(inEnglish, "\n") != strings.ReplaceAll(strings.Join(texts, "\n"), accent, "") {
			altered[c.path] = firstDifference(inEnglish, texts)
		}
		for _, h := range hostile {
			typed[h] = typed[h] || slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(s, h) })
		}
	}
	seen := map[string]bool{}
	for _, name := range []string{"Quinn Master", "Kim Crew", "Max Manager", "Ada Ministrator"} {
		c := w.as(name)
		c.handler = handlerOf(t, s)
		crawl(c, look, seen)
	}
	assert.Greater(t, len(seen), 60, "pages and forms looked at")
	for word, path := range left {
		t.Errorf("%s: %s", path, word)
	}
	for path, what := range altered {
		t.Errorf("%s differs from English: %s", path, what)
	}
	for _, h := range hostile {
		assert.True(t, typed[h], "%s stands on no page as it was typed", h)
	}
}

// seenBy is a page as the same person sees it in English.
func (w *world) seenBy(c *client) string {
	res := httptest.NewRecorder()
	w.router.ServeHTTP(res, c.asked)
	return res.Body.String()
}

func firstDifference(a, b []string) string {
	for i := range a {
		if i >= len(b) || a[i] != strings.ReplaceAll(b[i], accent, "") {
			return a[i] + " | " + strings.Join(b[i:min(i+1, len(b))], "")
		}
	}
	return strings.Join(b[min(len(a), len(b)):], " ")
}

var digits = regexp.MustCompile(`\d+|%[0-9A-F]{2}`)

// ordered is what tables are sorted by, and which row is open.
var ordered = regexp.MustCompile(`\b(sort|open)=[^&]*`)

// crawl looks at each kind of page that links lead to, then sends each kind of
// form as it stands.
func crawl(c *client, look func(*client), seen map[string]bool) {
	var forms [][2]string
	next := []string{"/", "/board", "/scanner", "/no-such-page", "/b/CEN-99", "/b/CEN-09"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		kind := path
		if (strings.Count(path, "/") > 1 || strings.Contains(path, "?")) && !strings.Contains(path, "CEN-09") {
			kind = ordered.ReplaceAllString(digits.ReplaceAllString(path, "0"), "$1")
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
				href, _ := attr(n, "href")
				href, _, _ = strings.Cut(href, "#") // which a browser does not send
				if strings.HasPrefix(href, "/") && !strings.HasPrefix(href, "/api/") {
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

// What a phone is told of what it sent is in the language too.
func TestAnswersToAPhoneInPseudo(t *testing.T) {
	w := newWorld(t)
	w.typeHostile()
	opt := w.options()
	opt.Language = "qps"
	s, err := newServer(w.svc, opt)
	require.NoError(t, err)
	c := w.as("Kim Crew")
	c.handler = handlerOf(t, s)
	c.get("/b/CEN-09/full-check")
	to, values := c.form("/full-check")
	values.Set("note", strings.Repeat("x", 100_000))
	c.queue(to, values)
	require.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	body := regexp.MustCompile(`"person":"[^"]*"|"(refused|fixes)"`).ReplaceAllString(c.res.Body.String(), "")
	assert.Contains(t, body, accent)
	assert.Empty(t, plainWords([]string{body}, nil))
}
