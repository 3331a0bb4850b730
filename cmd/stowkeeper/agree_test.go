package main

import (
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/testdata"
)

// testPagesAgree walks the demo at several clocks: each bag has one state, and one strip, on every page and in every
// answer that has one of that day, whatever is due or overdue by then; so has every day to come that the year tells of.
// A device whose inspection is overdue is nowhere said to be in order.
func testPagesAgree(t *testing.T, db string) {
	overdue := 0
	const day = 24 * time.Hour
	for _, ahead := range []time.Duration{0, 30 * time.Hour, 20 * day, 200 * day} {
		a := &agreeing{T: t, said: map[string]map[string]string{}}
		a.open(db, ahead)
		a.today()
		a.daysToCome()
		overdue += a.devices()
		heard := map[string]int{}
		for what, by := range a.said {
			for source, says := range by { // a carrier has no such page
				assert.Equal(t, cmp.Or(by["bag page"], by["vehicle"]), says, "%s on %s, %s from now", what, source, ahead)
				heard[source]++
			}
		}
		assert.GreaterOrEqual(t, len(a.said), 2*30, "bags with their strips")
		for _, source := range []string{"GET /bags", "bag page", "GET /bags/code", "GET /bags/code/readiness", "vehicle",
			"board", "report", "desk", "lent", "year", "GET /vehicles"} {
			assert.Positive(t, heard[source], "%s says nothing, %s from now", source, ahead)
		}
	}
	assert.Positive(t, overdue, "devices that are overdue")
}

// agreeing asks one service at one time.
type agreeing struct {
	*testing.T
	h       http.Handler
	session string
	said    map[string]map[string]string // bag, or the strip of one → where → what
}

func (a *agreeing) open(db string, ahead time.Duration) {
	bytes, err := os.ReadFile(db)
	require.NoError(a, err)
	file := filepath.Join(a.TempDir(), "demo.db")
	require.NoError(a, os.WriteFile(file, bytes, 0o600))
	s, err := store.Open(a.Context(), file, store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(a, err)
	a.Cleanup(func() { _ = s.Close() })
	svc := services.New(s, func() inventory.Instant { return clock().Add(ahead) }, services.Options{})
	a.h, err = (&program{svc: svc, baseURL: "https://kit.example.org", log: slog.New(slog.DiscardHandler)}).handler()
	require.NoError(a, err)
	signIns, err := demo.SignIns(testdata.Demo)
	require.NoError(a, err)
	i := slices.IndexFunc(signIns, func(x demo.SignIn) bool { return x.Role == string(inventory.Administrator) })
	in := httptest.NewRequestWithContext(a.Context(), http.MethodPost, "https://kit.example.org/sign-in",
		strings.NewReader(url.Values{"name": {signIns[i].Name}, "secret": {signIns[i].Secret}}.Encode()))
	in.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	in.Header.Set("Sec-Fetch-Site", "same-origin")
	res := a.send(in)
	require.Equal(a, http.StatusSeeOther, res.Code, res.Body)
	a.session = strings.Split(res.Header().Get("Set-Cookie"), ";")[0]
	a.kept(svc)
}

// kept compares today's report as it is made from the bags, from what is kept of them, and from every bag at once.
func (a *agreeing) kept(svc *services.All) {
	by := inventory.Actor{Name: "x", Role: inventory.Administrator}
	now := svc.Now()
	require.NoError(a, svc.Store.Write(a.Context(), func(ctx context.Context, _ inventory.Writer) error {
		_, err := store.Tx(ctx).ExecContext(ctx, "DELETE FROM kept")
		return err
	}))
	for _, only := range [][]string{nil, {"FM"}, {"HT", "SQ"}} {
		whole, err := inventory.Read(a.Context(), svc.Store, func(r inventory.Reader) (inventory.Shortages, error) {
			g, err := lists.LoadReportInput(r, inventory.ForIssue, nil)
			return inventory.ShortagesOf(g, now, 0, inventory.DefaultHorizonDays).Only(g, only, now), err
		})
		require.NoError(a, err)
		whole.States, whole.Mending = nil, nil
		require.NotEmpty(a, whole.Rows)
		for kept := range 2 {
			rep, err := svc.Report.Shortages(a.Context(), by, only, lists.Outlook{Horizon: -1})
			require.NoError(a, err)
			rep.States, rep.Mending = nil, nil
			assert.Equal(a, whole, rep, "of %v, kept %d", only, kept)
			n, err := svc.Report.Keep(a.Context(), 0)
			require.NoError(a, err)
			assert.Equal(a, only == nil && kept == 0, n > 0)
		}
	}
}

func (a *agreeing) send(r *http.Request) *httptest.ResponseRecorder {
	rec := httptest.NewRecorder()
	a.h.ServeHTTP(rec, r)
	return rec
}

func (a *agreeing) get(path string) string {
	a.Helper()
	r := httptest.NewRequestWithContext(a.Context(), http.MethodGet, "https://kit.example.org"+path, nil)
	r.Header.Set("Cookie", a.session)
	res := a.send(r)
	require.Equal(a, http.StatusOK, res.Code, "%s: %s", path, res.Body)
	return res.Body.String()
}

// says notes what a source says of a bag, or of its strip.
func (a *agreeing) says(what, source, text string) {
	if a.said[what] == nil {
		a.said[what] = map[string]string{}
	}
	if was, ok := a.said[what][source]; ok {
		assert.Equal(a, was, text, "%s twice on %s", what, source)
	}
	a.said[what][source] = text
}

var agreedStates = []string{"ready", "ready_with_gaps", "not_ready", "out_of_service"}

// today asks every page and answer that says what state a bag has now.
func (a *agreeing) today() {
	var list struct {
		Data []struct{ Code, State, Vehicle, Station, Purpose string }
	}
	a.answer("/api/v1/bags?limit=200", &list)
	for _, b := range list.Data {
		a.says(b.Code, "GET /bags", b.State)
		a.page("/b/"+b.Code, "bag page", b.Code)
		var one struct{ State string }
		a.answer("/api/v1/bags/"+b.Code, &one)
		a.says(b.Code, "GET /bags/code", one.State)
		a.answer("/api/v1/bags/"+b.Code+"/readiness", &one)
		a.says(b.Code, "GET /bags/code/readiness", one.State)
		if b.Vehicle != "" && b.Purpose != "training" {
			a.page("/vehicle?"+url.Values{"station": {b.Station}, "name": {b.Vehicle}}.Encode(), "vehicle", "")
		}
	}
	for _, station := range []string{"FM", "HT", "OV", "SQ"} {
		a.page("/board?station="+station, "board", "")
		a.page("/report?station="+station, "report", "")
	}
	a.page("/store?all=yes", "desk", "")
	a.page("/report", "report", "")
	a.page("/lent", "lent", "")
	a.page("/year", "year", "")
	a.report("", "GET /reports/shortages", func(string, string) {})
	var vehicles struct {
		Data []struct {
			Bags []struct{ Code, State string }
		}
	}
	a.answer("/api/v1/vehicles", &vehicles)
	for _, v := range vehicles.Data {
		for _, b := range v.Bags {
			a.says(b.Code, "GET /vehicles", b.State)
		}
	}
}

func (a *agreeing) answer(path string, into any) {
	a.Helper()
	require.NoError(a, json.Unmarshal([]byte(a.get(path)), into), path)
}

func (a *agreeing) report(query, source string, each func(bag, state string)) {
	var rep struct{ Bags map[string]int }
	var list struct {
		Data []struct{ Code, State, Inside, Purpose string }
	}
	a.answer("/api/v1/reports/shortages"+query, &rep)
	a.answer("/api/v1/bags?"+strings.TrimPrefix(query+"&limit=200", "?"), &list)
	n := map[string]int{"ready": 0, "ready_with_gaps": 0, "not_ready": 0, "out_of_service": 0}
	for _, s := range list.Data {
		if each(s.Code, s.State); s.Inside == "" && s.Purpose == "issue" { // a module counts with its bag
			n[s.State]++
		}
	}
	assert.Equal(a, n, rep.Bags, "%s%s counts what is listed", source, query)
}

// page notes what a page says of bags: in its verdict of the one that it is about, and in its lists.
func (a *agreeing) page(path, source, bag string) {
	a.Helper()
	doc, err := html.Parse(strings.NewReader(a.get(path)))
	require.NoError(a, err)
	for n := range doc.Descendants() {
		classes := strings.Fields(attribute(n, "class"))
		code, word := bag, ""
		switch {
		case n.Data == "section" && bag != "" && slices.Contains(classes, "verdict"):
		case n.Data == "li" && slices.Contains(classes, "bag"):
			code = textOfClass(n, "code")
		case n.Data == "li" && source == "lent" && textOfClass(n, "state") != "":
			code, word = textOfClass(n, "code"), textOfClass(n, "state")
		case n.Data == "p" && slices.Contains(classes, "says"):
			now, _, _ := strings.Cut(strings.NewReplacer(";", ".").Replace(textOf(n)), ".")
			code, word = textOfClass(n.Parent, "code"), strings.TrimPrefix(now, "Now: ")
		default:
			continue
		}
		if word != "" {
			classes = []string{strings.ReplaceAll(strings.ToLower(word), " ", "_")}
		}
		for _, c := range classes {
			if slices.Contains(agreedStates, c) {
				a.says(code, source, c)
			}
		}
		for d := range n.Descendants() {
			if attribute(d, "role") == "img" && attribute(d, "class") == "strip" {
				a.says("strip of "+code, source, attribute(d, "aria-label"))
			}
		}
	}
}

// daysToCome compares what the year says of the days after dates with what is said when such a day is asked about.
func (a *agreeing) daysToCome() {
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(a.get("/year.csv"), "\uFEFF"))).ReadAll()
	require.NoError(a, err)
	at := func(name string) int { return slices.Index(rows[0], name) }
	byDay := map[inventory.Day]map[string]string{}
	for _, row := range rows[1:] {
		last, err := inventory.ParseDay(row[at("last_usable_day")])
		require.NoError(a, err)
		day := last.AddDays(1)
		if byDay[day] == nil {
			byDay[day] = map[string]string{}
		}
		byDay[day][row[at("bag")]] = row[at("bag_state_next_day")]
	}
	days := slices.Sorted(maps.Keys(byDay))
	const some = 4 // from the whole year
	require.GreaterOrEqual(a, len(days), some)
	for i := range some {
		day := days[i*len(days)/some]
		year := byDay[day]
		query := "?as_of=" + day.String()
		var list struct {
			Data []struct{ Code, State string }
		}
		a.answer("/api/v1/bags"+query+"&limit=200", &list)
		is := map[string]string{}
		for _, b := range list.Data {
			is[b.Code] = b.State
		}
		a.report(query, "report", func(bag, state string) { assert.Equal(a, is[bag], state, "%s on %s", bag, day) })
		for bag, state := range year {
			assert.Equal(a, is[bag], state, "%s on %s, by the year ahead", bag, day)
		}
		that := &agreeing{T: a.T, h: a.h, session: a.session, said: map[string]map[string]string{}}
		that.page("/report"+query, "page", "")
		assert.NotEmpty(a, that.said, "the report of %s", day)
		for bag, by := range that.said {
			if !strings.HasPrefix(bag, "strip of ") {
				assert.Equal(a, is[bag], by["page"], "%s on the report of %s", bag, day)
			}
		}
	}
}

// devices looks at each device that is overdue, and returns how many there are.
func (a *agreeing) devices() int {
	var list struct {
		Data []struct {
			ID                int64
			InspectionOverdue bool `json:"inspection_overdue"`
			Fit               bool
			Serial            string
		}
	}
	a.answer("/api/v1/devices?limit=200", &list)
	n := 0
	for _, d := range list.Data {
		if !d.InspectionOverdue {
			continue
		}
		n++
		doc, err := html.Parse(strings.NewReader(a.get("/devices/" + itoa(d.ID))))
		require.NoError(a, err)
		for e := range doc.Descendants() {
			if classes := strings.Fields(attribute(e, "class")); slices.Contains(classes, "verdict") {
				assert.NotContains(a, classes, "ready", "%s is overdue", d.Serial)
				state := textOfClass(e, "state")
				assert.Contains(a, []string{"Inspect first", "Do not use", ""}, state, d.Serial)
			}
		}
	}
	return n
}

func attribute(n *html.Node, name string) string {
	for _, x := range n.Attr {
		if x.Key == name {
			return x.Val
		}
	}
	return ""
}

func textOf(n *html.Node) string {
	var out strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			out.WriteString(d.Data)
		}
	}
	return strings.Join(strings.Fields(out.String()), " ")
}

// textOfClass is what the first part of a node with a class says.
func textOfClass(n *html.Node, class string) string {
	for d := range n.Descendants() {
		if slices.Contains(strings.Fields(attribute(d, "class")), class) {
			return textOf(d)
		}
	}
	return ""
}
