package main

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	argon2 "stowkeeper/inventory/secret"
	"stowkeeper/inventory/store"
)

// composed is API, pages and health on one router, as the program serves them,
// with two stations whose bags have everything that can be asked for.
type composed struct {
	*testing.T
	svc    *inventory.Service
	router *gin.Engine
	tablet string            // secret of the terminal that sessions are opened on
	other  map[string]string // what to put into routes so that they ask for the other station's things
}

// secrets of the other station, none of which may be shown to people who do
// not belong to it.
const (
	otherBag      = "KD7-444"
	otherNote     = "note of the other station"
	otherIncident = "INC-OTHER"
)

func compose(t *testing.T) *composed {
	t.Helper()
	s, err := store.Open(t.Context(), smallDatabase(t), store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	c := &composed{T: t, svc: inventory.NewService(s, clock)}
	p := &program{svc: c.svc, baseURL: "https://kit.example.org", log: slog.New(slog.DiscardHandler)}
	h, err := p.handler()
	require.NoError(t, err)
	c.router = h.(*gin.Engine)
	tablet, err := c.svc.AddTerminal(t.Context(), operator, "tablet", "")
	require.NoError(t, err)
	c.tablet, err = c.svc.EnrolHere(t.Context(), operator, tablet.ID)
	require.NoError(t, err)
	c.fill()
	return c
}

// fill gives both stations stock, a check and a use that wait, a restock and
// an observation.
func (c *composed) fill() {
	ctx := c.Context()
	c.other = map[string]string{":code": otherBag, ":place": "S2-STORE", ":name": "style.css", ":item": "AMP", ":kind": "sign-out", ":sheet": "a4-3x7"}
	for bag, site := range map[string]string{"KD7-442": "N1", otherBag: "S2"} {
		if site == "S2" {
			d, err := c.svc.StartDelivery(ctx, operator, "S2-STORE")
			require.NoError(c, err)
			_, err = c.svc.ScanPack(ctx, operator, d.ID, "0109521234543213")
			require.NoError(c, err)
			c.other[":delivery"] = itoa(d.ID)
		}
		incident, note := "INC-OWN", "a note of one's own"
		if site == "S2" {
			incident, note = otherIncident, otherNote
		}
		lot, err := c.svc.Receive(ctx, operator, inventory.Receipt{Place: site + "-STORE", Item: "GAUZE", LotNo: "G-" + site, Qty: 9})
		require.NoError(c, err)
		_, err = c.svc.RecordRestock(ctx, operator, inventory.Restock{Bag: bag, Note: note, SealSet: "1", Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 2}}}, 0)
		require.NoError(c, err)
		check, err := c.svc.RecordCheck(ctx, operator, inventory.Check{Bag: bag, Kind: inventory.FullCheck, Note: note, Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 2}}}, "")
		require.NoError(c, err)
		use, err := c.svc.RecordUse(ctx, operator, inventory.Use{Bag: bag, Incident: incident, Note: note, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		require.NoError(c, err)
		require.Equal(c, []inventory.RecordStatus{inventory.StatusWaiting, inventory.StatusWaiting}, []inventory.RecordStatus{check.Status, use.Status})
		b, err := c.svc.Bag(ctx, operator, bag)
		require.NoError(c, err)
		_, err = c.svc.RecordCheck(ctx, operator, inventory.Check{Bag: bag, Kind: inventory.SealCheck, SealSeen: "2", SeenPosition: b.Position}, "")
		require.NoError(c, err)
		if site == "S2" {
			seen, err := c.svc.Observations(ctx, operator, inventory.ObservationFilter{Bag: bag})
			require.NoError(c, err)
			require.Len(c, seen, 1)
			c.fillRegister()
			c.other["/checks/:id"], c.other["/uses/:id"] = itoa(check.ID), itoa(use.ID)
			c.other["/d/:id"], c.other["/D/:id"] = itoa(lot.ID), itoa(lot.ID)
			c.other["/observations/:id"], c.other["/lots/:id"], c.other["/products/:id"] = itoa(seen[0].ID), itoa(lot.ID), "1"
		}
	}
}

// fillRegister gives the other station a controlled item, with an entry that
// owes a signature: it became a controlled one after it was received.
func (c *composed) fillRegister() {
	ctx := c.Context()
	it, err := c.svc.CreateItem(ctx, operator, inventory.Item{Code: "AMP", Name: "Ampoule", Category: inventory.CategoryPainRelief, Unit: "ampoule", TrackedBy: inventory.ByLot})
	require.NoError(c, err)
	lot, err := c.svc.Receive(ctx, operator, inventory.Receipt{Place: "S2-STORE", Item: "AMP", LotNo: "A-1", Qty: 5})
	require.NoError(c, err)
	it.Witnessed = true
	_, err = c.svc.UpdateItem(ctx, operator, it)
	require.NoError(c, err)
	used, err := c.svc.PostEntry(ctx, operator, inventory.Posting{Kind: inventory.PostUse, Place: "S2-STORE", Reference: otherIncident, Note: otherNote, Lines: []inventory.PostingLine{{LotID: lot.ID, Qty: 1}}})
	require.NoError(c, err)
	c.other["/entries/:id"], c.other[":entry"] = itoa(used[0].ID), itoa(used[0].ID)
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// path puts the other station's codes and ids into a route.
func (c *composed) path(route string) string {
	c.Helper()
	path := route
	path = strings.NewReplacer(":lot_id", c.other["/lots/:id"], ":lot", c.other["/lots/:id"], ":notice", "1", "/notices/:id", "/notices/1",
		":person", "1", ":terminal", "99", "/tokens/:id", "/tokens/99", ":token", "99", ":link", "nothing", ":product", "1", ":delivery", c.other[":delivery"], ":line", "1", ":job", "none", ":list", "none").Replace(path)
	for _, of := range []string{"/checks/", "/uses/", "/observations/", "/lots/", "/products/", "/d/", "/D/", "/entries/"} {
		path = strings.Replace(path, of+":id", of+c.other[of+":id"], 1)
	}
	for _, name := range []string{":code", ":place", ":name", ":item", ":sheet", ":kind", ":entry"} {
		path = strings.Replace(path, name, c.other[name], 1)
	}
	require.NotContains(c, path, ":", "say what stands for the parameter of %s", route)
	return path
}

// do sends a request to the router; header holds names and values in turn.
func (c *composed) do(method, path, body string, header ...string) *httptest.ResponseRecorder {
	c.Helper()
	r := httptest.NewRequestWithContext(c.Context(), method, "https://kit.example.org"+path, strings.NewReader(body))
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	rec := httptest.NewRecorder()
	c.router.ServeHTTP(rec, r)
	return rec
}

// token makes a program of a role at station N1.
func (c *composed) token(role inventory.Role) string {
	c.Helper()
	text, err := c.svc.CreateToken(c.Context(), operator, inventory.Token{Name: "program " + string(role), Role: role, Sites: []string{"N1"}})
	require.NoError(c, err)
	return text
}

// session signs a person of a role at station N1 in on the page and returns
// the cookie.
func (c *composed) session(role inventory.Role) *http.Cookie {
	c.Helper()
	secret := "seven lamps at dusk"
	if role.UsesPIN() {
		secret = "4821"
	}
	_, err := c.svc.CreatePerson(c.Context(), operator, inventory.Person{Name: "person " + string(role), Role: role, Sites: []string{"N1"}}, secret, argon2.Argon2id{})
	require.NoError(c, err)
	rec := c.form("/sign-in", nil, url.Values{"name": {"person " + string(role)}, "secret": {secret}}, "Cookie", "__Host-stowkeeper_terminal="+c.tablet)
	require.Equal(c, http.StatusSeeOther, rec.Code)
	cookies := rec.Result().Cookies()
	require.Len(c, cookies, 2, "the session, and the terminal's cookie renewed")
	return cookies[0]
}

// form sends a form as a browser does from a page of the service.
func (c *composed) form(path string, session *http.Cookie, values url.Values, header ...string) *httptest.ResponseRecorder {
	c.Helper()
	header = append([]string{"Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin", "Origin", "https://kit.example.org"}, header...)
	if session != nil {
		header = append(header, "Cookie", session.Name+"="+session.Value)
	}
	return c.do(http.MethodPost, path, values.Encode(), header...)
}

// open is every route that answers a stranger.
var open = []string{"GET /healthz", "GET /readyz", "GET /assets/:name", "GET /worker.js", "GET /no-signal", "GET /waiting-here", "GET /sign-in", "POST /sign-in", "POST /sign-out",
	"GET /welcome/:link", "POST /welcome/:link", "GET /enrol/:link", "POST /enrol/:link"}

// TestStrangers asks every route of the composed router without saying who
// asks, and with a token and a session that nobody has.
func TestStrangers(t *testing.T) {
	c := compose(t)
	isOpen := map[string]bool{}
	for _, route := range open {
		isOpen[route] = true
	}
	for _, rt := range c.router.Routes() {
		name := rt.Method + " " + rt.Path
		if isOpen[name] {
			delete(isOpen, name)
			continue
		}
		for _, with := range [][]string{nil, {"Authorization", "Bearer sk_NOBODY"}, {"Authorization", "Basic YTpi"}, {"Cookie", "__Host-stowkeeper_session=nobody"}} {
			rec := c.do(rt.Method, c.path(rt.Path), "", with...)
			switch {
			case strings.HasPrefix(rt.Path, api.Base):
				assert.Equal(t, http.StatusUnauthorized, rec.Code, name)
				assert.Contains(t, rec.Header().Get("WWW-Authenticate"), "Bearer", name)
				assert.Equal(t, "application/problem+json", rec.Header().Get("Content-Type"), name)
			case rt.Method == http.MethodGet:
				assert.Equal(t, http.StatusSeeOther, rec.Code, name)
				assert.True(t, strings.HasPrefix(rec.Header().Get("Location"), "/sign-in?next="), name)
			default:
				assert.Equal(t, http.StatusUnauthorized, rec.Code, name)
			}
			assert.NotContains(t, rec.Body.String(), "Small bag", name)
			assert.NotContains(t, rec.Body.String(), otherNote, name)
		}
	}
	assert.Empty(t, isOpen, "open routes that do not exist")
	for _, rt := range api.Routes() {
		assert.NotEqual(t, inventory.ActOpen, rt.Action, rt.Path)
	}
	for _, path := range []string{"/nowhere", "/api", "/api/v2/bags", "/b/", "/metrics", "/debug/pprof/", "/api/v1/docs", "/.git/config", "/assets/../web.go"} {
		assert.Equal(t, http.StatusNotFound, c.do(http.MethodGet, path, "").Code, path)
	}
}

// TestOnlyOnesOwnStation has crew, quartermaster and manager of station N1 ask
// every route, of the API by token and of the pages by session, for what
// belongs to station S2. They are shown nothing of it and change nothing.
func TestOnlyOnesOwnStation(t *testing.T) {
	c := compose(t)
	before := c.state()
	for _, role := range []inventory.Role{inventory.Crew, inventory.Quartermaster, inventory.Manager} {
		token, session := c.token(role), c.session(role)
		for _, rt := range c.router.Routes() {
			name := string(role) + ": " + rt.Method + " " + rt.Path
			var rec *httptest.ResponseRecorder
			switch path := c.path(rt.Path); {
			case strings.HasPrefix(rt.Path, api.Base):
				rec = c.do(rt.Method, path, apiBodies[rt.Path], "Authorization", "Bearer "+token, "Content-Type", "application/json", "Idempotency-Key", strings.ReplaceAll(name, " ", "-"), "If-Match", "*")
			case rt.Method == http.MethodGet:
				rec = c.do(rt.Method, path, "", "Cookie", session.Name+"="+session.Value)
			case rt.Path == "/sign-out":
				continue
			default:
				rec = c.form(path, session, url.Values{"key": {name}, "position": {"0"}, "reason": {"x"}, "decision": {"dismiss"}})
			}
			ofBag := strings.Contains(rt.Path, "/bags/:code") || strings.Contains(rt.Path, "/b/:code") || strings.Contains(rt.Path, "s/:id") && !strings.Contains(rt.Path, "/lots/") && !strings.Contains(rt.Path, "/products/") && !strings.Contains(rt.Path, "/notices/") && !strings.Contains(rt.Path, "/entries/")
			if ofBag {
				assert.Equal(t, http.StatusForbidden, rec.Code, "%s\n%s", name, rec.Body)
			}
			for _, secret := range []string{otherNote, otherIncident} {
				assert.NotContains(t, rec.Body.String(), secret, name)
			}
			if !ofBag && role == inventory.Crew {
				assert.NotContains(t, rec.Body.String(), otherBag, name)
				assert.NotContains(t, rec.Body.String(), "S2-", name)
			}
		}
	}
	assert.Equal(t, before, c.state(), "nothing was changed")
}

// apiBodies are requests that would be right at the other station, by route.
var apiBodies = map[string]string{
	api.Base + "/bags/:code":                        `{"taken_off":{"reason":"mine now"}}`,
	api.Base + "/bags/:code/checks":                 `{"kind":"seal","seal_seen":"1","seen_position":0}`,
	api.Base + "/bags/:code/uses":                   `{"incident":"I-1","seen_position":0,"lines":[{"lot_id":1,"qty":1}]}`,
	api.Base + "/bags/:code/restocks":               `{"seal_set":"3"}`,
	api.Base + "/bags/:code/seals":                  `{"opened":true}`,
	api.Base + "/bags/:code/swap":                   `{"in":"M-1"}`,
	api.Base + "/vehicles/take-off":                 `{"site":"S2","vehicle":"Van 9","reason":"mine"}`,
	api.Base + "/vehicles/put-back":                 `{"site":"S2","vehicle":"Van 9"}`,
	api.Base + "/away":                              `{"from":"S2-STORE","where":"Hospital","lines":[{"lot_id":1,"qty":1}]}`,
	api.Base + "/away/:code/returns":                `{"lines":[{"lot_id":1,"qty":1}]}`,
	api.Base + "/classes":                           `{"place":"S2-TRAINING","class":"C-1","lines":[{"lot_id":1,"qty":1}]}`,
	api.Base + "/lots/:id/corrections":              `{"lot_no":"MINE","reason":"mine"}`,
	api.Base + "/lots/:id/identify":                 `{"place":"S2-QUARANTINE","qty":1,"lot_no":"MINE","note":"mine"}`,
	api.Base + "/places/:code":                      `{"name":"Mine"}`,
	api.Base + "/bags/:code/observations/:id/close": `{"reason":"seen"}`,
	api.Base + "/checks/:id/decision":               `{"decision":"dismiss","reason":"mine"}`,
	api.Base + "/uses/:id/decision":                 `{"decision":"dismiss","reason":"mine"}`,
	api.Base + "/receipts":                          `{"place":"S2-STORE","item":"GAUZE","qty":1}`,
	api.Base + "/barcodes":                          `{"text":"0109521234543213"}`,
	api.Base + "/label-sheets/:sheet/offset":        `{"site":"S2","offset_x":1,"offset_y":1}`,
	api.Base + "/register/balance-checks":           `{"item":"AMP","place":"S2-STORE","counted":9}`,
	api.Base + "/register/entries":                  `{"kind":"use","place":"S2-STORE","reference":"mine","lines":[{"lot_id":1,"qty":1}]}`,
	api.Base + "/register/entries/:id/signature":    `{"person":"somebody","pin":"1234"}`,
	api.Base + "/movements":                         `{"movements":[{"lot_id":1,"qty":1,"from":"S2-STORE","to":"used","reason":"used"}]}`,
	api.Base + "/places":                            `{"code":"S2-SHELF","site":"S2","kind":"store","purpose":"issue","name":"Shelf"}`,
	api.Base + "/bags":                              `{"code":"KD7-999","site":"S2","name":"Mine","kit_list":"SMALL"}`,
}

// state is everything that people of N1 must not have changed.
func (c *composed) state() any {
	c.Helper()
	ctx := c.Context()
	bags, err := c.svc.Bags(ctx, operator, inventory.BagFilter{}, inventory.Page{})
	require.NoError(c, err)
	checks, err := c.svc.Checks(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(c, err)
	uses, err := c.svc.Uses(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(c, err)
	moves, err := c.svc.Movements(ctx, operator, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(c, err)
	places, err := c.svc.Places(ctx, operator, inventory.PlaceFilter{}, inventory.Page{})
	require.NoError(c, err)
	seen, err := c.svc.Observations(ctx, operator, inventory.ObservationFilter{})
	require.NoError(c, err)
	offsets, err := c.svc.SheetOffsets(ctx, operator, "S2")
	require.NoError(c, err)
	owed, err := c.svc.OwedRows(ctx, operator, nil)
	require.NoError(c, err)
	require.NotEmpty(c, owed)
	return []any{bags, checks, uses, moves, places, seen, offsets, owed}
}

// TestHeaders looks at what every answer is sent with, errors included.
func TestHeaders(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Crew)
	assert.True(t, session.HttpOnly && session.Secure && session.SameSite == http.SameSiteLaxMode && session.Path == "/", session.String())
	paths := []string{"/nowhere", "/api/nowhere", "/b/NOPE", "/b/%ff"}
	for _, rt := range c.router.Routes() {
		if rt.Method == http.MethodGet {
			paths = append(paths, c.path(rt.Path), strings.Replace(c.path(rt.Path), otherBag, "KD7-442", 1))
		}
	}
	for _, path := range paths {
		h := c.do(http.MethodGet, path, "", "Cookie", session.Name+"="+session.Value).Header()
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		switch {
		case strings.HasPrefix(path, "/api/v1/"):
			assert.Equal(t, "no-store", h.Get("Cache-Control"), path)
		case strings.HasPrefix(h.Get("Content-Type"), "text/html"):
			assert.Equal(t, "same-origin", h.Get("Referrer-Policy"), path)
			policy := strings.Split(h.Get("Content-Security-Policy"), "; ")
			assert.Subset(t, policy, []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"}, path)
			assert.NotContains(t, h.Get("Content-Security-Policy"), "unsafe", path)
			assert.True(t, slices.Contains([]string{"private, no-cache", "no-store"}, h.Get("Cache-Control")), "%s: %s", path, h.Get("Cache-Control"))
		}
	}
}

// TestOtherOrigins sends every form and every writing request with a good
// session from a page of somewhere else, as a browser would be made to.
func TestOtherOrigins(t *testing.T) {
	c := compose(t)
	before := c.state()
	session := c.session(inventory.Quartermaster)
	for _, rt := range c.router.Routes() {
		if rt.Method == http.MethodGet {
			continue
		}
		path := strings.Replace(c.path(rt.Path), otherBag, "KD7-442", 1)
		body := strings.NewReplacer("S2-STORE", "N1-STORE", `"S2"`, `"N1"`).Replace(apiBodies[rt.Path])
		for _, from := range [][]string{
			{"Sec-Fetch-Site", "cross-site"},
			{"Sec-Fetch-Site", "same-site", "Origin", "https://kit.example.org:8443"},
			{"Origin", "https://elsewhere.example.org"},
		} {
			header := append([]string{"Cookie", session.Name + "=" + session.Value, "Idempotency-Key", "k", "If-Match", "*"}, from...)
			rec := c.do(rt.Method, path, body, header...)
			assert.Equal(t, http.StatusForbidden, rec.Code, "%s %s %v\n%s", rt.Method, rt.Path, from, rec.Body)
		}
	}
	assert.Equal(t, before, c.state(), "nothing was changed")
}
