package main

import (
	"cmp"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/register"
	argon2 "stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/transfer"
	"stowkeeper/testdata"
)

// composed is API, pages and health on one router, as the program serves them,
// with two stations whose bags have everything that can be asked for.
type composed struct {
	*testing.T
	svc       *services.All
	ahead     time.Duration // by how much the service's clock is before the time of day
	router    *gin.Engine
	tablet    string                       // secret of the terminal that sessions are opened on
	file      string                       // its database
	published string                       // code of a published kit list
	things    map[string]map[string]string // station → what stands for the parameters of a route there
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
	file := smallDatabase(t)
	s, err := store.Open(t.Context(), file, store.Options{Logger: slog.New(slog.DiscardHandler),
		SQLiteDriver: storetest.Counting(t)})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	c := &composed{T: t, file: file, things: map[string]map[string]string{}}
	c.serve(s)
	c.enrolTablet()
	_, err = c.svc.Lists.CreateItem(t.Context(), operator, inventory.Item{Code: "SPLINT", Name: "Splint",
		Category: inventory.CategoryImmobilisation, Unit: "each", TrackedBy: inventory.BySerial})
	require.NoError(t, err)
	_, err = c.svc.Lists.CreateStation(t.Context(), operator, inventory.Station{Code: "Z9", Name: "Beyond",
		Timezone: "UTC"})
	require.NoError(t, err)
	lots := c.ampoules()
	c.fill("S2", otherBag, otherIncident, otherNote, lots["S2"])
	c.fill("N1", "KD7-442", "INC-OWN", "a note of one's own", lots["N1"])
	_, err = c.svc.Notice.CreateNotice(t.Context(), operator, inventory.Notice{Reference: "FSN-1",
		Action: inventory.NoticeWithdraw, Item: "SPLINT", NoticeScope: inventory.NoticeScope{Serials: []string{"SN-N1",
			"SN-S2"}}, Text: "The buckle slips."})
	require.NoError(t, err)
	return c
}

// serve puts API and pages over a store.
func (c *composed) serve(s inventory.Store) {
	c.Helper()
	published, err := lists.ParsePublished(testdata.KitStandards)
	require.NoError(c, err)
	now := func() inventory.Instant { return clock().Add(c.ahead) }
	c.published = published[0].ID
	c.svc = services.New(s, now, services.Options{Published: published})
	h, err := (&program{svc: c.svc, baseURL: "https://kit.example.org", log: slog.New(slog.DiscardHandler)}).handler()
	require.NoError(c, err)
	c.router = h.(*gin.Engine)
}

// enrolTablet makes the terminal that people sign in on.
func (c *composed) enrolTablet() {
	c.Helper()
	tablet, err := c.svc.Account.AddTerminal(c.Context(), operator, "tablet", "")
	require.NoError(c, err)
	c.tablet, err = c.svc.Account.EnrolHere(c.Context(), operator, tablet.ID)
	require.NoError(c, err)
}

// fill gives a station stock, a check and a use that wait, a restock, an
// observation, a delivery, a device, something away, and a page of the register
// with an entry that owes a signature; and says what stands for the parameters
// of routes there. A parameter is known by what stands before it.
func (c *composed) fill(station, bag, incident, note string, amps int64) {
	ctx, stock := c.Context(), station+"-STORE"
	d, err := c.svc.Storeroom.StartDelivery(ctx, operator, stock, "")
	require.NoError(c, err)
	_, err = c.svc.Storeroom.ScanPack(ctx, operator, d.ID, "0109521234543213")
	require.NoError(c, err)
	lot, err := c.svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: stock, Item: "GAUZE", BatchNo: "G-" + station,
		Qty: 9})
	require.NoError(c, err)
	device, err := c.svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: stock, Item: "SPLINT",
		Serial: "SN-" + station, Qty: 1})
	require.NoError(c, err)
	_, err = c.svc.Storeroom.RecordRestock(ctx, operator, inventory.Restock{Bag: bag, Note: note, SealSet: "1",
		Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 2}}}, 0)
	require.NoError(c, err)
	check, err := c.svc.Shift.RecordCheck(ctx, operator, inventory.Check{Bag: bag, Kind: inventory.FullCheck, Note: note,
		Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 2}}}, "")
	require.NoError(c, err)
	use, err := c.svc.Shift.RecordUse(ctx, operator, inventory.Use{Bag: bag, Incident: incident, Note: note,
		Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 99}}}, "")
	require.NoError(c, err)
	require.Equal(c, []inventory.RecordStatus{inventory.StatusToReview, inventory.StatusToReview},
		[]inventory.RecordStatus{check.Status, use.Status})
	b, err := c.svc.Lists.Bag(ctx, operator, bag)
	require.NoError(c, err)
	_, err = c.svc.Shift.RecordCheck(ctx, operator, inventory.Check{Bag: bag, Kind: inventory.SealCheck, SealSeen: "2",
		SeenPosition: b.Position}, "")
	require.NoError(c, err)
	seen, err := c.svc.Storeroom.Observations(ctx, operator, bag, inventory.ObservationFilter{})
	require.NoError(c, err)
	require.Len(c, seen, 1)
	vehicle := "Van 9"
	_, err = c.svc.Lists.UpdateBag(ctx, operator, bag, 0, ledger.BagChange{Vehicle: &vehicle})
	require.NoError(c, err)
	away, err := c.svc.Shift.SendAway(ctx, operator, shift.AwayTrip{From: stock, Where: "Hospital", Reference: incident,
		Note: note, Lines: []shift.AwayLine{{LotID: lot.ID, Qty: 1}}})
	require.NoError(c, err)
	used, err := c.svc.Register.RecordEntry(ctx, operator, register.EntryRequest{Kind: register.RequestUse, Place: stock,
		Reference: incident, Note: note, Lines: []register.EntryRequestLine{{LotID: amps, Qty: 1}}})
	require.NoError(c, err)
	doubt := inventory.Discrepancy{Item: "AMP", Place: stock, Entry: used[0].ID, OpenedAt: used[0].RecordedAt,
		OpenedBy: operator.Name, Text: message.M("given and wasted not recorded")}
	acting := inventory.Acting(ctx, operator)
	require.NoError(c, c.svc.Store.Write(acting, func(_ context.Context, w inventory.Writer) error {
		doubt, err = w.AddDiscrepancy(doubt)
		return err
	}))
	sent, err := c.svc.Transfer.Ask(ctx, operator, transfer.TransferRequest{From: stock, To: "Z9-STORE",
		Lines: []transfer.AskedLine{{Item: "GAUZE", Qty: 1}}, Note: note})
	require.NoError(c, err)
	coming, err := c.svc.Transfer.Ask(ctx, operator, transfer.TransferRequest{From: "Z9-STORE", To: stock,
		Lines: []transfer.AskedLine{{Item: "GAUZE", Qty: 1}}, Note: note})
	require.NoError(c, err)
	counting, err := c.svc.Count.Start(ctx, operator, stock, true)
	require.NoError(c, err)
	draft, waited := c.orders(station, "GAUZE", note)
	entry, receipt := itoa(used[0].ID), c.receiptOf(lot.ID)
	things := map[string]string{"amps": itoa(amps), "deliveries/:delivery": itoa(d.ID), "checks/:id": itoa(check.ID),
		"uses/:id": itoa(use.ID), "observations/:id": itoa(seen[0].ID), "discrepancies/:id": itoa(doubt.ID),
		"transfers/:id": itoa(sent.ID), "receive": itoa(coming.ID), "orders/:id": itoa(draft), "orders/:order": itoa(draft),
		"orders/receive": itoa(waited), "orders/close": itoa(waited),
		"transfers/:transfer": itoa(sent.ID), "counts/:id": itoa(counting.ID),
		"counts/:count": itoa(counting.ID), "lots/:id": itoa(lot.ID), "receipts/:id": receipt, "receipts/:receipt": receipt,
		"entries/:id": entry, "entries/:entry": entry, "places/:code": away.Code,
		"away/:code": away.Code, "away/:place": away.Code}
	for _, of := range []string{"bags/:code", "b/:code", "B/:code"} {
		things[of] = bag
	}
	for _, of := range []string{"register/:place", "stock/:place", "s/:place", "S/:place"} {
		things[of] = stock
	}
	for _, of := range []string{"d/:id", "D/:id", "devices/:lot", "devices/:lot_id"} {
		things[of] = itoa(device.ID)
	}
	c.things[station] = things
}

// orders are two orders of an item for a station: a draft, and one that was sent.
func (c *composed) orders(station, item, note string) (draft, sent int64) {
	c.Helper()
	ctx := c.Context()
	pr, err := c.svc.Lists.CreateProduct(ctx, operator, inventory.Product{Item: item, PackSize: 5, Supplier: "Alderbank"})
	require.NoError(c, err)
	in := order.OrderRequest{Supplier: "Alderbank", Station: station, Note: note,
		Lines: []order.OrderLineRequest{{Product: pr.ID, Packs: 2}}}
	for _, id := range []*int64{&draft, &sent} {
		o, err := c.svc.Order.Draft(ctx, operator, in)
		require.NoError(c, err)
		*id = o.ID
	}
	_, err = c.svc.Order.Send(ctx, operator, sent, nil, note)
	require.NoError(c, err)
	return draft, sent
}

// receiptOf is the movement that brought a lot in.
func (c *composed) receiptOf(lot int64) string {
	c.Helper()
	ms, err := c.svc.Ledger.Movements(c.Context(), operator, inventory.MovementFilter{LotID: lot},
		inventory.Page{Limit: 1})
	require.NoError(c, err)
	return itoa(ms[0].ID)
}

// ofNoStation stands for parameters that name what belongs to no station: what all
// share, or what somebody has to themselves.
var ofNoStation = map[string]string{
	"items/:code": "GAUZE", "items/:item": "GAUZE", ":place/:item": "AMP", "kit-lists/:code": "SMALL",
	"kit-lists/:list": "SMALL", "published-lists/:list": "none",
	"published/:list": "none", "products/:id": "1", "products/:product": "1", "notices/:id": "1", "notices/:notice": "1",
	"people/:person": "1", "tokens/:id": "99", "stations/:code": "S2", "stations/:station": "S2",
	"tokens/:token": "99", "terminals/:terminal": "99", "assets/:name": "style.css", "welcome/:link": "nothing",
	"enrol/:link": "nothing", "calendar/:link": "nothing", "lines/:line": "1",
	"imports/:job": "none", "label-sheets/:sheet": "a4-3x7", "post/:kind": "sign-out",
}

// ampoules gives both stations five units each of an item that becomes a
// controlled one afterwards, and returns their lots.
func (c *composed) ampoules() map[string]int64 {
	ctx := c.Context()
	it, err := c.svc.Lists.CreateItem(ctx, operator, inventory.Item{Code: "AMP", Name: "Ampoule",
		Category: inventory.CategoryPainRelief, Unit: "ampoule", TrackedBy: inventory.ByLot,
		Life: inventory.Life{OpenedDays: 1}})
	require.NoError(c, err)
	lots := map[string]int64{}
	for _, station := range []string{"S2", "N1"} {
		lot, err := c.svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: station + "-STORE", Item: "AMP",
			BatchNo: "A-" + station, Qty: 5})
		require.NoError(c, err)
		lots[station] = lot.ID
	}
	it.Controlled = true
	_, err = c.svc.Lists.UpdateItem(ctx, operator, it)
	require.NoError(c, err)
	return lots
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// path puts the other station's codes and ids into a route.
func (c *composed) path(route string) string {
	c.Helper()
	path, _ := c.pathAt("S2", route)
	return path
}

// pathAt puts a station's codes and ids into a route, and tells whether one of
// them belongs to the station.
func (c *composed) pathAt(station, route string) (path string, bound bool) {
	c.Helper()
	parts := strings.Split(route, "/")
	out := slices.Clone(parts)
	for i, part := range parts {
		if !strings.HasPrefix(part, ":") {
			continue
		}
		of := parts[i-1] + "/" + part
		if route == "/stations/:station" || route == "/stations/:station/calendar" ||
			route == "/api/v1/stations/:code/settings" {
			out[i], bound = strings.Fields(station)[0], true // of which each has its own
			continue
		}
		own, has := c.things[station][of]
		if i+1 < len(parts) && slices.Contains([]string{"transfers", "counts", "orders"}, parts[i-1]) {
			// one that may take the step
			own = cmp.Or(c.things[station][parts[i-1]+"/"+parts[i+1]], c.things[station][parts[i+1]], own)
		}
		shared, free := ofNoStation[of]
		require.True(c, has || free, "say what stands for the parameter %s of %s", of, route)
		out[i], bound = cmp.Or(own, shared), bound || has && !free
	}
	return strings.Join(out, "/"), bound
}

// do sends a request to the router; header holds names and values in turn.
func (c *composed) do(method, path, body string, header ...string) *httptest.ResponseRecorder {
	c.Helper()
	return c.doIn(c.Context(), method, path, body, header...)
}

func (c *composed) doIn(ctx context.Context, method, path, body string, header ...string) *httptest.ResponseRecorder {
	c.Helper()
	r := httptest.NewRequestWithContext(ctx, method, "https://kit.example.org"+path, strings.NewReader(body))
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
	text, err := c.svc.Account.CreateToken(c.Context(), operator, inventory.Token{Name: "program " + string(role),
		Role: role, Stations: []string{"N1"}})
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
	_, err := c.svc.Account.CreatePerson(c.Context(), operator, inventory.Person{Name: "person " + string(role),
		Role: role, Stations: []string{"N1"}}, secret, argon2.Argon2id{})
	require.NoError(c, err)
	rec := c.form("/sign-in", nil, url.Values{"name": {"person " + string(role)}, "secret": {secret}}, "Cookie",
		"__Host-stowkeeper_terminal="+c.tablet)
	require.Equal(c, http.StatusSeeOther, rec.Code)
	cookies := rec.Result().Cookies()
	want := 2 // the session, and the terminal's cookie renewed
	if role.UsesPIN() {
		want++ // those who tap their name stand first the next time
	}
	require.Len(c, cookies, want)
	return cookies[0]
}

// form sends a form as a browser does from a page of the service.
func (c *composed) form(path string, session *http.Cookie, values url.Values,
	header ...string) *httptest.ResponseRecorder {
	c.Helper()
	header = append([]string{"Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin",
		"Origin", "https://kit.example.org"}, header...)
	if session != nil {
		header = append(header, "Cookie", session.Name+"="+session.Value)
	}
	return c.do(http.MethodPost, path, values.Encode(), header...)
}

// open is every route that answers a stranger.
var open = []string{"GET /healthz", "GET /readyz", "GET /assets/:name", "GET /worker.js", "GET /no-signal",
	"GET /waiting-here", "GET /sign-in", "POST /sign-in", "POST /sign-out", "POST /look",
	"GET /welcome/:link", "POST /welcome/:link", "GET /enrol/:link", "POST /enrol/:link", "GET /calendar/:link"}

// TestOpenRoutes: these and no others answer a stranger; the rest, walked by
// TestRouteMatrix, asks who comes. What is no route is not there.
func TestOpenRoutes(t *testing.T) {
	c := compose(t)
	var found []string
	for _, d := range c.doors() {
		if d.action == inventory.ActOpen {
			found = append(found, d.method+" "+d.path)
		}
		if d.api {
			rec := c.do(d.method, c.path(d.path), "", "Authorization", "Basic YTpi")
			assert.Equal(t, http.StatusUnauthorized, rec.Code, d.path)
			assert.Contains(t, rec.Header().Get("WWW-Authenticate"), "Bearer", d.path)
			assert.Equal(t, "application/problem+json", rec.Header().Get("Content-Type"), d.path)
		}
	}
	assert.ElementsMatch(t, open, found)
	for _, path := range []string{"/nowhere", "/api", "/api/v2/bags", "/b/", "/metrics", "/debug/pprof/", "/api/v1/docs",
		"/.git/config", "/assets/../web.go"} {
		assert.Equal(t, http.StatusNotFound, c.do(http.MethodGet, path, "").Code, path)
	}
}

// state is everything that people of N1 must not have changed.
func (c *composed) state() any {
	c.Helper()
	ctx := c.Context()
	bags, err := c.svc.Storeroom.Bags(ctx, operator, inventory.BagFilter{}, inventory.Page{})
	require.NoError(c, err)
	checks, err := c.svc.Shift.Checks(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(c, err)
	uses, err := c.svc.Shift.Uses(ctx, operator, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(c, err)
	moves, err := c.svc.Ledger.Movements(ctx, operator, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(c, err)
	places, err := c.svc.Lists.Places(ctx, operator, inventory.PlaceFilter{}, inventory.Page{})
	require.NoError(c, err)
	seen, err := c.svc.Storeroom.Observations(ctx, operator, "", inventory.ObservationFilter{})
	require.NoError(c, err)
	offsets, err := c.svc.Storeroom.SheetOffsets(ctx, operator, "S2")
	require.NoError(c, err)
	owed, err := c.svc.Register.OwedRows(ctx, operator, nil)
	require.NoError(c, err)
	require.NotEmpty(c, owed)
	return []any{bags, checks, uses, moves, places, seen, offsets, owed}
}

// TestHeaders looks at what every answer is sent with, errors included.
func TestHeaders(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Crew)
	assert.True(t, session.HttpOnly && session.Secure && session.SameSite == http.SameSiteLaxMode && session.Path == "/",
		session.String())
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
			assert.Subset(t, policy, []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'",
				"form-action 'self'"}, path)
			assert.NotContains(t, h.Get("Content-Security-Policy"), "unsafe", path)
			assert.True(t, slices.Contains([]string{"private, no-cache", "no-store"}, h.Get("Cache-Control")), "%s: %s", path,
				h.Get("Cache-Control"))
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
		body := strings.NewReplacer("S2-STORE", "N1-STORE", `"S2"`, `"N1"`).Replace(apiBodies[rt.Method+" "+rt.Path])
		for _, from := range [][]string{
			{"Sec-Fetch-Site", "cross-site"},
			{"Sec-Fetch-Site", "same-site", "Origin", "https://kit.example.org:8443"},
			{"Origin", "https://elsewhere.example.org"},
		} {
			header := append([]string{"Cookie", session.Name + "=" + session.Value, "Idempotency-Key", "k", "If-Match", "*"},
				from...)
			rec := c.do(rt.Method, path, body, header...)
			assert.Equal(t, http.StatusForbidden, rec.Code, "%s %s %v\n%s", rt.Method, rt.Path, from, rec.Body)
		}
	}
	assert.Equal(t, before, c.state(), "nothing was changed")
}
