package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	argon2 "stowkeeper/inventory/secret"
	"stowkeeper/web"
)

// door is a route as the matrix tries it.
type door struct {
	method, path string // as the router has them
	action       inventory.Action
	api          bool
}

// doors are all routes of the composed router with the actions of their tables.
func (c *composed) doors() []door {
	c.Helper()
	actions := map[string]inventory.Action{"GET /healthz": inventory.ActOpen, "GET /readyz": inventory.ActOpen}
	for _, rt := range api.Routes() {
		actions[rt.Method+" "+api.Base+strings.NewReplacer("{", ":", "}", "").Replace(rt.Path)] = rt.Action
	}
	for _, rt := range web.Routes() {
		actions[rt.Method+" "+rt.Path] = rt.Action
	}
	var out []door
	for _, rt := range c.router.Routes() {
		action, ok := actions[rt.Method+" "+rt.Path]
		require.True(c, ok, "%s %s is in no table", rt.Method, rt.Path)
		out = append(out, door{rt.Method, rt.Path, action, strings.HasPrefix(rt.Path, api.Base+"/")})
	}
	require.Len(c, out, len(actions))
	return out
}

// visitor is somebody who tries doors, by token at the API and by session at
// the pages.
type visitor struct {
	name           string
	role           inventory.Role
	stations       []string           // none for all
	scope          []inventory.Action // none for all that the role may
	token, session string
}

func (v visitor) may(act inventory.Action) bool {
	return inventory.May(v.role, act) && (v.scope == nil || slices.Contains(v.scope, act))
}

// visitors are every role at station N1, the roles that may belong to all
// stations, and for every action a token that is kept to it.
func (c *composed) visitors() []visitor {
	c.Helper()
	var out []visitor
	add := func(name string, role inventory.Role, stations []string, scope ...inventory.Action) {
		v := visitor{name: name, role: role, stations: stations, scope: scope}
		var err error
		v.token, err = c.svc.Account.CreateToken(c.Context(), operator, inventory.Token{Name: "program " + name, Role: role,
			Stations: stations, Scope: scope})
		require.NoError(c, err)
		if scope == nil {
			v.session = c.enter(name, role, stations)
		}
		out = append(out, v)
	}
	for _, role := range inventory.Roles {
		if role == inventory.Administrator { // stations narrow a token, and no person
			add("administrator kept to N1", role, []string{"N1"}, inventory.Actions[2:]...)
		} else {
			add(string(role)+" of N1", role, []string{"N1"})
		}
		if role != inventory.Crew {
			add(string(role)+" of all", role, nil)
		}
	}
	for _, act := range inventory.Actions {
		if act != inventory.ActOpen && act != inventory.ActAccount {
			add("kept to "+string(act), inventory.Administrator, nil, act)
		}
	}
	return out
}

// enter makes a person and returns the secret of their session.
func (c *composed) enter(name string, role inventory.Role, stations []string) string {
	c.Helper()
	secret := "seven lamps at dusk"
	if role.UsesPIN() {
		secret = "4821"
	}
	_, err := c.svc.Account.CreatePerson(c.Context(), operator, inventory.Person{Name: "person " + name, Role: role,
		Stations: stations}, secret, argon2.Argon2id{})
	require.NoError(c, err)
	cookie, err := c.svc.Account.SignIn(c.Context(), "person "+name, secret, account.From{Terminal: c.tablet},
		argon2.Argon2id{})
	require.NoError(c, err)
	return cookie
}

// strangers are people whom no door knows any more, or never knew.
func (c *composed) strangers() []visitor {
	c.Helper()
	out := []visitor{{name: "nobody"}, {name: "made up", token: "sk_NOBODY", session: "nobody"}}
	c.ahead = -account.SessionLimit - time.Minute
	in := inventory.Token{Name: "ended", Role: inventory.Administrator, EndsAt: c.svc.Now().Add(time.Minute)}
	ended, err := c.svc.Account.CreateToken(c.Context(), operator, in)
	require.NoError(c, err)
	out = append(out, visitor{name: "ended", token: ended, session: c.enter("Ended", inventory.Administrator, nil)})
	c.ahead = 0
	revoked, err := c.svc.Account.CreateToken(c.Context(), operator, inventory.Token{Name: "revoked",
		Role: inventory.Administrator})
	require.NoError(c, err)
	left := c.enter("Left", inventory.Administrator, nil)
	out = append(out, visitor{name: "revoked and signed out", token: revoked, session: left})
	for _, v := range out[2:] { // each was good once
		if v.name != "ended" {
			require.Equal(c, http.StatusOK, c.try(v, door{http.MethodGet, api.Base + "/people", "", true}, "N1").Code)
			require.Equal(c, http.StatusOK, c.try(v, door{http.MethodGet, "/people", "", false}, "N1").Code)
		}
	}
	all, err := c.svc.Account.Tokens(c.Context(), operator)
	require.NoError(c, err)
	_, err = c.svc.Account.RevokeToken(c.Context(), operator, all[len(all)-1].ID)
	require.NoError(c, err)
	require.NoError(c, c.svc.Account.SignOut(c.Context(), left))
	return append(out, visitor{name: "a token as session and a session as token", token: c.enter("Turned",
		inventory.Administrator, nil), session: c.tokenOf(inventory.Administrator)})
}

func (c *composed) tokenOf(role inventory.Role) string {
	text, err := c.svc.Account.CreateToken(c.Context(), operator, inventory.Token{Name: "turned", Role: role})
	require.NoError(c, err)
	return text
}

// try asks for a door with the things of a station. What it would change is
// taken back.
func (c *composed) try(v visitor, d door, station string) *httptest.ResponseRecorder {
	c.Helper()
	path, _ := c.pathAt(station, d.path)
	at := c.at(station)
	body := at.Replace(apiBodies[d.method+" "+d.path])
	header := []string{"Content-Type", "application/json", "Idempotency-Key", "k", "If-Match", "*", "Authorization",
		"Bearer " + v.token}
	if v.token == "" {
		header = header[:6]
	}
	if ask := queries[d.path]; d.method == http.MethodGet && ask != "" {
		path += "?" + at.Replace(ask)
	}
	if !d.api {
		header = []string{"Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin", "Origin",
			"https://kit.example.org", "Cookie", "__Host-stowkeeper_session=" + v.session}
		form, err := url.ParseQuery(at.Replace(anyForm))
		require.NoError(c, err)
		form.Set("key", d.path)
		body = form.Encode()
	}
	if d.method == http.MethodGet {
		return c.do(d.method, path, "", header...)
	}
	undo := errors.New("undo")
	var rec *httptest.ResponseRecorder
	err := c.svc.Ledger.Together(c.Context(), func(ctx context.Context) error {
		rec = c.doIn(ctx, d.method, path, body, header...)
		return undo
	})
	require.ErrorIs(c, err, undo)
	return rec
}

// at puts a station into what is written down for S2.
func (c *composed) at(station string) *strings.Replacer {
	things := c.things[station]
	return strings.NewReplacer("S2", station, otherBag, things["bags/:code"], "{lot}", things["lots/:id"], "{amps}",
		things["amps"])
}

// stationOf tells whether a route asks for what belongs to one station: by a
// parameter, or by what it is asked with.
func (c *composed) stationOf(d door) bool {
	_, bound := c.pathAt("S2", d.path)
	_, asks := queries[d.path]
	return bound || d.method == http.MethodGet && asks || strings.Contains(apiBodies[d.method+" "+d.path], "S2") ||
		d.method == http.MethodPost && slices.Contains(formsOfStations, d.path)
}

// TestRouteMatrix walks every route × every role, at one station and at all, and
// tokens that are kept to each action × things of one's own station and of
// another, and strangers of every kind, and compares what happens with the
// table of who may do what where: none more, none less.
func TestRouteMatrix(t *testing.T) {
	c := compose(t)
	strangers, visitors := c.strangers(), c.visitors()
	before, shown := c.state(), 0
	for _, d := range c.doors() {
		if d.action == inventory.ActOpen {
			continue
		}
		bound := c.stationOf(d)
		assert.NotEqual(t, bound, slices.Contains(ofAll, d.path),
			"say how %s %s is asked for what belongs to a station, or that it is not", d.method, d.path)
		for _, v := range strangers {
			c.meansNobody(v, d)
		}
		for _, v := range visitors {
			if d.api && (v.token == "" || d.action == inventory.ActAccount) || !d.api && v.session == "" {
				continue // a token is for the API, which has no account
			}
			if !bound && v.stations == nil && v.scope == nil && v.role != inventory.Administrator {
				continue // as their like of one station, who is tried
			}
			switch {
			case !v.may(d.action):
				rec := c.try(v, d, "N1")
				assert.Equal(t, http.StatusForbidden, rec.Code, "%s may not: %s %s", v.name, d.method, d.path)
				assert.True(t, d.api || strings.Contains(rec.Body.String(), "not allowed for your role"), d.path)
			case !bound:
				c.getsIn(v, d, "N1")
			case v.stations == nil:
				shown += strings.Count(c.getsIn(v, d, "S2").Body.String(), otherNote)
			default:
				c.getsIn(v, d, "N1")
				c.keptOut(v, d)
			}
		}
	}
	assert.Equal(t, before, c.state(), "who was kept out changed nothing")
	assert.Greater(t, shown, 10, "what those who belong to a station are shown of it")
}

// TestWhatIsMadeMayNoMore: a token that a token made may at no door, of things of its own station or another, what its
// maker may not, whatever it was made with.
func TestWhatIsMadeMayNoMore(t *testing.T) {
	c := compose(t)
	refused := func(v visitor, d door, station string) bool {
		return slices.Contains([]int{http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound},
			c.try(v, d, station).Code)
	}
	made := 0
	for _, maker := range c.visitors() {
		if maker.token == "" || !maker.may(inventory.ActKeepPeople) || maker.stations == nil && maker.scope == nil {
			continue
		}
		for _, in := range []string{`"role":"administrator"`, `"role":"quartermaster"`, `"role":"crew","stations":["N1"]`,
			`"role":"manager","scope":["see"]`, `"role":"administrator","stations":["N1"],"scope":["keep_people"]`} {
			rec := c.do(http.MethodPost, api.Base+"/tokens", fmt.Sprintf(`{"name":"made %s %d",%s}`, maker.name, made, in),
				"Content-Type", "application/json", "Authorization", "Bearer "+maker.token)
			if rec.Code == http.StatusForbidden {
				continue
			}
			require.Equal(t, http.StatusOK, rec.Code, rec.Body)
			made++
			heir := visitor{name: "made by " + maker.name, token: decodeToken(t, rec.Body.Bytes())}
			for _, d := range c.doors() {
				for _, station := range []string{"N1", "S2"} {
					if d.api && refused(maker, d, station) {
						assert.True(t, refused(heir, d, station), "%s with %s at %s: %s %s", heir.name, in, station, d.method,
							d.path)
					}
				}
			}
		}
	}
	assert.Greater(t, made, 3)
}

func decodeToken(t *testing.T, body []byte) string {
	t.Helper()
	var made struct {
		Text string `json:"token"`
	}
	require.NoError(t, json.Unmarshal(body, &made))
	require.NotEmpty(t, made.Text, "%s", body)
	return made.Text
}

// meansNobody: a route that is not open asks a stranger to sign in.
func (c *composed) meansNobody(v visitor, d door) {
	c.Helper()
	rec := c.try(v, d, "N1")
	if d.api || d.method != http.MethodGet {
		assert.Equal(c, http.StatusUnauthorized, rec.Code, "%s: %s %s", v.name, d.method, d.path)
		return
	}
	assert.Equal(c, http.StatusSeeOther, rec.Code, "%s: %s %s", v.name, d.method, d.path)
	path, _ := c.pathAt("N1", d.path)
	assert.True(c, strings.HasPrefix(rec.Header().Get("Location"), "/sign-in?next="+url.QueryEscape(path)), "%s: %s %s",
		v.name, d.method, d.path)
}

// getsIn: a visitor gets past the door, and finds what there is at the station.
func (c *composed) getsIn(v visitor, d door, station string) *httptest.ResponseRecorder {
	c.Helper()
	rec := c.try(v, d, station)
	assert.NotContains(c, []int{http.StatusUnauthorized, http.StatusForbidden}, rec.Code, "%s may at %s: %s %s\n%s",
		v.name, station, d.method, d.path, rec.Body)
	assert.Less(c, rec.Code, 500, "%s at %s: %s %s\n%s", v.name, station, d.method, d.path, rec.Body)
	if c.stationOf(d) && d.path != "/deliveries/:delivery/lines/:line" {
		assert.NotEqual(c, http.StatusNotFound, rec.Code, "%s at %s: %s %s\n%s", v.name, station, d.method, d.path, rec.Body)
	}
	return rec
}

// keptOut: what belongs to another station is refused, or as good as not there,
// and nothing of it is shown.
func (c *composed) keptOut(v visitor, d door) {
	c.Helper()
	rec := c.try(v, d, "S2")
	out := []int{http.StatusForbidden, http.StatusNotFound}
	if d.method == http.MethodGet && slices.Contains(narrows, d.path) {
		out = []int{http.StatusOK, http.StatusUnprocessableEntity}
	}
	assert.Contains(c, out, rec.Code, "%s at another station: %s %s\n%s", v.name, d.method, d.path, rec.Body)
	for _, secret := range []string{otherNote, otherIncident, "G-S2", "SN-S2", "A-S2"} {
		assert.NotContains(c, rec.Body.String(), secret, "%s at another station: %s %s", v.name, d.method, d.path)
	}
}
