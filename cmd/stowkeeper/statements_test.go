package main

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"maps"
	"mime/multipart"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// What a page or a reading of the API may ask of the database. The two read
// transactions are who asks, and what they are shown.
const (
	mostStatements int64 = 30
	mostReads      int64 = 2
)

// askMore are the routes that may ask more, and more where there is more, each
// with the most that it may ask here and the reason.
var askMore = map[string]struct {
	most   int64
	reason string
}{
	"/store":                   {34, "registers and bags are read by name, not with all there are; orders that are late"},
	"/report":                  {42, "of few stations what their bags hold; of many one row each, from what is kept"},
	"/exports/stowkeeper.xlsx": {64, everything},
	"/exports/stowkeeper.zip":  {64, everything},
	api.Base + "/export.xlsx":  {64, everything},
}

const everything = "all that is kept is in it: each table once, a thousand rows at a time, so that it need not fit " +
	"in memory"

// sentOn are the routes that send one to another page.
var sentOn = map[string]int{
	"/": http.StatusSeeOther, "/b": http.StatusSeeOther, "/B/:code": http.StatusMovedPermanently,
	"/d/:id": http.StatusSeeOther, "/D/:id": http.StatusSeeOther,
	"/s/:place/:item": http.StatusSeeOther, "/S/:place/:item": http.StatusSeeOther,
}

// needsQuery are the routes of queries that show nothing without theirs.
var needsQuery = strings.Fields(`/api/v1/calendar.ics /away/send /lots/:id/open /lots/:id/quarantine /lots/:id/training
	/labels/sheet.pdf /labels/sheet.svg /recorded /checks/rows /vehicle`)

// askedWith is what a route is asked with here, where queries asks for what is
// refused, or found so well that no list of it is shown.
var askedWith = map[string]string{
	"/lots/:id/quarantine": "place=S2-QUARANTINE", "/search": "q=bag",
	"/labels/sheet.svg": "kind=bag&bag=KD7-444&sheet=a4-3x7&page=1",
}

// request is one request and what it cost.
type request struct {
	name, route string
	status      int
	storetest.Counts
}

// TestStatements walks every GET route as an administrator of everything and as
// quartermaster and crew of one station, once for that station, where it can be
// asked about one, and once for all that they see, in a service of 2 stations
// with 2 bags each and in one of 30 with 30 each. What a page asks of the
// database must not grow with what there is, and nothing that is only looked at
// is written.
func TestStatements(t *testing.T) {
	many := 30
	if raced {
		many = 8
	}
	few, big := walkGets(t, 2), walkGets(t, many)
	require.Len(t, big, len(few))
	var table strings.Builder
	for i, a := range few {
		b := big[i]
		require.Equal(t, a.name, b.name)
		fmt.Fprintf(&table, "%-72s %4d %6d %5d %4d %3d %4d %3d\n",
			a.name, b.status, a.Statements, b.Statements, a.Reads, b.Reads, a.Writes, b.Writes)
		want := cmp.Or(sentOn[a.route], http.StatusOK)
		assert.Equal(t, []int{want, want}, []int{a.status, b.status}, "%s is reached", a.name)
		assert.Zero(t, a.Writes+b.Writes, "%s: write transactions", a.name)
		assert.LessOrEqual(t, b.Reads, mostReads, "%s: read transactions", a.name)
		more := askMore[a.route]
		assert.LessOrEqual(t, b.Statements, cmp.Or(more.most, mostStatements), "%s: statements", a.name)
		if more.reason == "" {
			assert.Equal(t, a.Statements, b.Statements, "%s: statements, where there is more", a.name)
		}
	}
	if name := os.Getenv("STOWKEEPER_TEST_STATEMENTS"); name != "" { // a file for the whole table
		require.NoError(t, os.WriteFile(name, []byte(table.String()), 0o600))
	}
}

// walkGets asks for every GET route of a service of n stations with n bags each.
func walkGets(t *testing.T, n int) []request {
	c := crowded(t, n)
	out := []request{c.welcomed()}
	walkers := c.walkers()
	c.present()
	for _, d := range c.doors() {
		for _, v := range walkers {
			if d.method == http.MethodGet && d.path != out[0].route && v.may(d.action) {
				out = append(out, c.askBoth(v, d)...)
			}
		}
	}
	slices.SortFunc(out, func(a, b request) int { return cmp.Compare(a.name, b.name) })
	return out
}

// askBoth asks for one route with its query and without.
func (c *composed) askBoth(v visitor, d door) (out []request) {
	c.Helper()
	for _, query := range c.queriesOf(v, d) {
		out = append(out, c.ask(v, d, query))
	}
	return out
}

func (c *composed) queriesOf(v visitor, d door) (out []string) {
	c.Helper()
	if d.path == "/imports/:job" { // each sees their own
		c.things["N1"]["imports/:job"] = c.uploaded(v)
	}
	if query := cmp.Or(askedWith[d.path], queries[d.path]); query != "" {
		out = append(out, query)
	}
	if !slices.Contains(needsQuery, d.path) {
		out = append(out, "")
	}
	return out
}

// crowded is a service of n stations with n bags each.
func crowded(t *testing.T, n int) *composed {
	t.Helper()
	c := compose(t)
	began := time.Now()
	c.crowd(n)
	_, err := c.svc.Report.Keep(t.Context(), 0) // as the program does all the time
	require.NoError(t, err)
	t.Logf("%d stations with %d bags each, in %v", n, n, time.Since(began).Round(time.Millisecond))
	return c
}

// walkers are an administrator of everything, and people of station N1, all of
// whom were here today.
func (c *composed) walkers() (out []visitor) {
	c.Helper()
	for _, role := range []inventory.Role{inventory.Administrator, inventory.Quartermaster, inventory.Crew} {
		stations := []string{"N1"}
		if role == inventory.Administrator {
			stations = nil
		}
		name := "walking " + string(role)
		text, err := c.svc.Account.CreateToken(c.Context(), operator,
			inventory.Token{Name: name, Role: role, Stations: stations})
		require.NoError(c, err)
		_, err = c.svc.Account.TokenActor(c.Context(), text) // the first use on a day is written down
		require.NoError(c, err)
		out = append(out, visitor{role: role, token: text, session: c.enter(name, role, stations)})
	}
	return out
}

// ask makes one request and counts what it costs.
func (c *composed) ask(v visitor, d door, query string) request {
	c.Helper()
	path, header := c.asked(v, d, query)
	out := request{name: "GET " + d.path, route: d.path}
	if v.role != inventory.Administrator {
		out.name += " " + string(v.role)
	}
	if query != "" {
		out.name += " ?"
	}
	before := storetest.Counted()
	rec := c.do(d.method, path, "", header...)
	out.Counts, out.status = storetest.Counted().Since(before), rec.Code
	return out
}

// asked returns where a visitor asks for a route, and what they send with it.
func (c *composed) asked(v visitor, d door, query string) (path string, header []string) {
	c.Helper()
	path, _ = c.pathAt("N1", d.path)
	if special := c.things["N1"][d.path]; special != "" {
		path = special
	}
	if query != "" {
		path += "?" + c.at("N1").Replace(query)
	}
	header = []string{"Cookie", "__Host-stowkeeper_session=" + v.session}
	if d.api {
		header = []string{"Authorization", "Bearer " + v.token}
	}
	if d.path == "/sign-in" { // who is in already is sent on
		header = nil
	}
	return path, header
}

// TestNobodyChangesWhatIsRemembered shows every page and reading of the API from
// one snapshot, whose answers all of them share, twice: each is what it is when
// it is asked for alone. So none sorts or cuts what the next one is told.
func TestNobodyChangesWhatIsRemembered(t *testing.T) {
	c := crowded(t, 2)
	v := c.walkers()[0]
	c.present()
	// Each showing has its own of these, and the probe may run meanwhile.
	own := regexp.MustCompile(`(name="key" value|data-key)="[^"]*"|<dt>Last test write \(UTC\)</dt><dd>.*?</dd>|` +
		`<time[^>]*>[^<]*</time>|DTSTAMP:\w+`)
	elsewhere := regexp.MustCompile(`^/imports/|\.(xlsx|zip)$`) // packed with the time
	alone := map[string]string{}
	show := func(ctx context.Context, d door, query string) (string, string) {
		path, header := c.asked(v, d, query)
		rec := c.doIn(ctx, d.method, path, "", header...)
		return path, own.ReplaceAllString(rec.Body.String(), "")
	}
	ctx, done := inventory.Look(t.Context())
	defer done()
	for range 2 {
		for _, d := range c.doors() {
			if d.method != http.MethodGet || !v.may(d.action) || elsewhere.MatchString(d.path) {
				continue
			}
			for _, query := range c.queriesOf(v, d) {
				path, body := show(ctx, d, query)
				if _, known := alone[path]; !known {
					_, alone[path] = show(t.Context(), d, query)
				}
				assert.Equal(t, alone[path], body, path)
			}
		}
	}
	assert.Greater(t, len(alone), 100)
}

// welcomed asks for the page of the first administrator, which is there as long
// as there is none.
func (c *composed) welcomed() request {
	c.Helper()
	var err error
	c.things["N1"]["welcome/:link"], err = c.svc.Account.WelcomeLink(c.Context())
	require.NoError(c, err)
	return c.ask(visitor{}, door{method: http.MethodGet, path: "/welcome/:link"}, "")
}

// present puts in what the routes need that other tests are content not to
// find: a one-time link, a published list, and lots of the right kind.
func (c *composed) present() {
	c.Helper()
	terminals, err := c.svc.Account.Terminals(c.Context(), operator)
	require.NoError(c, err)
	link, err := c.svc.Account.EnrolLink(c.Context(), operator, terminals[0].ID)
	require.NoError(c, err)
	calendar, err := c.svc.Account.CreateCalendarKey(c.Context(), operator, "N1")
	require.NoError(c, err)
	_, err = c.svc.Account.CalendarActor(c.Context(), calendar) // the first use on a day is written down
	require.NoError(c, err)
	published, err := c.svc.Lists.PublishedLists(operator)
	require.NoError(c, err)
	things, list := c.things["N1"], published[0].ID
	maps.Copy(things, map[string]string{
		"published/:list": list, "published-lists/:list": list, "enrol/:link": link, "calendar/:link": calendar,
		"/lots/:id/open": "/lots/" + things["amps"] + "/open", "/assets/:name": c.styleSheet(),
	})
}

// styleSheet is the path of one, as pages name it.
func (c *composed) styleSheet() string {
	page := c.do(http.MethodGet, "/sign-in", "").Body.String()
	return regexp.MustCompile(`/assets/style[^"]*`).FindString(page)
}

// uploaded sends a file and returns the number of its import once the dry run
// is over.
func (c *composed) uploaded(v visitor) string {
	c.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	require.NoError(c, w.WriteField("kind", "items"))
	file, err := w.CreateFormFile("file", "items.csv")
	require.NoError(c, err)
	_, err = file.Write([]byte("code,name\n"))
	require.NoError(c, err)
	require.NoError(c, w.Close())
	cookie := "__Host-stowkeeper_session=" + v.session
	rec := c.do(http.MethodPost, "/imports", body.String(), "Content-Type", w.FormDataContentType(),
		"Sec-Fetch-Site", "same-origin", "Cookie", cookie)
	at := rec.Header().Get("Location")
	require.Equal(c, http.StatusSeeOther, rec.Code, rec.Body)
	require.Eventually(c, func() bool {
		rec := c.do(http.MethodGet, at, "", "Cookie", cookie)
		return rec.Code == http.StatusOK && !strings.Contains(rec.Body.String(), `http-equiv="refresh"`)
	}, patience, 10*time.Millisecond)
	return strings.TrimPrefix(at, "/imports/")
}

// TestStatementsOfARestock counts what it costs to show the form of a restock
// and to record one, and to check a bag of twenty lots of which a unit is gone;
// the requests are whole, with who asks and the answer that is kept.
func TestStatementsOfARestock(t *testing.T) {
	c := crowded(t, 20)
	v := c.walkers()[0]
	things := c.things["N1"]
	form := c.ask(v, door{method: http.MethodGet, path: "/bags/:code/restock"}, "")
	require.Equal(t, http.StatusOK, form.status)
	assert.LessOrEqual(t, form.Statements, mostStatements, "the restock form")

	list, err := c.svc.Shift.Checklist(t.Context(), operator, things["bags/:code"], lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	var counted, stowed []string
	for _, p := range list.Pouches {
		for _, l := range p.Lines {
			for _, lot := range l.Lots {
				gone := ""
				if len(counted) == 0 {
					lot.Qty, gone = lot.Qty-1, `,"reason":"missing"`
				}
				counted = append(counted, fmt.Sprintf(`{"lot_id":%d,"counted":%d%s}`, lot.LotID, lot.Qty, gone))
				stowed = append(stowed, fmt.Sprintf(`{"lot_id":%d,"qty":1}`, lot.LotID))
			}
		}
	}
	require.GreaterOrEqual(t, len(counted), 20)
	path := "/bags/" + things["bags/:code"]
	check := c.send(v, path+"/checks",
		fmt.Sprintf(`{"kind":"full","seen_position":%d,"lines":[%s]}`, list.Bag.Position, strings.Join(counted, ",")))
	assert.LessOrEqual(t, check.Statements, mostStatements, "a full check of %d lots", len(counted))
	restock := c.send(v, path+"/restocks", `{"seal_set":"8","lines":[`+strings.Join(stowed[len(stowed)-3:], ",")+`]}`)
	assert.LessOrEqual(t, restock.Statements, mostStatements, "a restock of three lines")
	t.Log(form.Counts, check, restock)
}

// TestTouchIsNoPage: that somebody was here is written down before their page is
// read, once in a while, and apart from it.
func TestTouchIsNoPage(t *testing.T) {
	c := crowded(t, 2)
	v := c.walkers()[0]
	door := door{method: http.MethodGet, path: "/b/:code"}
	assert.Zero(t, c.ask(v, door, "").Writes, "just after signing in")
	c.ahead = 11 * time.Minute
	assert.EqualValues(t, 1, c.ask(v, door, "").Writes, "a while later")
	assert.Zero(t, c.ask(v, door, "").Writes, "and again")
}

// send makes a request that must succeed of the API, and counts what it costs.
func (c *composed) send(v visitor, path, body string) storetest.Counts {
	c.Helper()
	before := storetest.Counted()
	rec := c.do(http.MethodPost, api.Base+path, body, "Content-Type", "application/json", "Idempotency-Key", path,
		"Authorization", "Bearer "+v.token)
	require.Equal(c, http.StatusCreated, rec.Code, rec.Body)
	require.NotContains(c, rec.Body.String(), "to_review")
	return storetest.Counted().Since(before)
}
