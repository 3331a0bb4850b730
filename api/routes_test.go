package api_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

var parameter = regexp.MustCompile(`\{(\w+)\}`)

// TestTableIsTheRouter compares the table with what the router really serves:
// neither has a route that the other lacks, and each has its action.
func TestTableIsTheRouter(t *testing.T) {
	w := newWorld(t)
	var table, real []string
	for _, rt := range api.Routes() {
		table = append(table, rt.Method+" "+api.Base+parameter.ReplaceAllString(rt.Path, ":$1"))
		assert.Contains(t, inventory.Actions, rt.Action, "%s %s", rt.Method, rt.Path)
		assert.NotEqual(t, inventory.ActOpen, rt.Action, "%s %s is open to strangers", rt.Method, rt.Path)
	}
	for _, r := range w.engine.Routes() {
		real = append(real, r.Method+" "+r.Path)
	}
	assert.ElementsMatch(t, table, real)
}

// TestOperationNames: every operation has a name of its own that says what it
// does, and does not spell its path out.
func TestOperationNames(t *testing.T) {
	var document struct {
		Paths map[string]map[string]struct {
			ID string `json:"operationId"`
		} `json:"paths"`
	}
	require.NoError(t, json.Unmarshal(newWorld(t).served(), &document))
	telling := regexp.MustCompile(
		`^(add|cancel|change|close|convert|copy|correct|create|decide|export|get|identify|inspect|keep|` +
			`list|move|open|plan|preview|print|read|receive|record|report|return|` +
			`revoke|send|sign|stop|swap|withdraw)([A-Z][A-Za-z]+)$`)
	notLetters, seen := regexp.MustCompile(`\W|_`), map[string]string{}
	for path, methods := range document.Paths {
		for method, op := range methods {
			assert.Regexp(t, telling, op.ID, "%s %s", method, path)
			assert.NotEqual(t, method+notLetters.ReplaceAllString(path, ""), strings.ToLower(op.ID), path)
			assert.Empty(t, seen[op.ID], "%s is %s too", path, op.ID)
			seen[op.ID] = path
		}
	}
	assert.Len(t, seen, len(api.Routes()))
	assert.Equal(t, []string{"/bags/{code}/swap", "/bags/{code}/uses"}, []string{seen["swapModule"], seen["recordUse"]})
}

// concrete fills the parameters of a path with things that a packed world has.
func concrete(path string) string {
	path = strings.ReplaceAll(path, "/items/{code}", "/items/TQ-ADULT")
	path = strings.ReplaceAll(path, "/kit-lists/{code}", "/kit-lists/RESPONSE")
	path = strings.ReplaceAll(path, "/tokens/{id}", "/tokens/99")
	path = strings.ReplaceAll(path, "{code}", "KD7-442")
	return strings.NewReplacer("{id}", "1", "{lot_id}", "1", "{list}", "cfr-1").Replace(path)
}

// TestOtherStations keeps crew, and everybody who belongs to stations, at theirs.
func TestOtherStations(t *testing.T) {
	s := newPacked(t)
	for _, role := range []inventory.Role{crew, quartermaster, manager} {
		elsewhere := s.token(role, "S2")
		for _, rt := range api.Routes() {
			if !strings.HasPrefix(rt.Path, "/bags/{code}") || !inventory.May(role, rt.Action) {
				continue
			}
			c := s.with(elsewhere, rt.Method, concrete(rt.Path)).key("k").set("If-Match", `"1"`)
			if body, ok := wellFormed[rt.Method+" "+rt.Path]; ok {
				c.json(body)
			}
			assert.Equal(t, 403, c.do().status, "%s of another station at %s %s", role, rt.Method, rt.Path)
		}
		assert.Empty(t, decoded[listOf[inventory.BagSummary]](s.with(elsewhere, "GET", "/bags").want(200)).Data)
		s.with(elsewhere, "GET", "/bags?station=N1").want(403)
		assert.Len(t, decoded[listOf[inventory.Station]](s.with(elsewhere, "GET", "/stations").want(200)).Data, 1)
	}
}

// wellFormed are bodies that pass for their shape.
var wellFormed = map[string]string{
	"PATCH /bags/{code}":                        `{"out_of_service":{"reason":"wet"}}`,
	"POST /bags/{code}/checks":                  `{"kind":"seal","seen_position":1,"seal_seen":"A-100"}`,
	"POST /bags/{code}/uses":                    `{"incident":"I-1","seen_position":1,"lines":[{"lot_id":1,"qty":1}]}`,
	"POST /bags/{code}/restocks":                `{"seal_set":"A-101"}`,
	"POST /bags/{code}/swap":                    `{"in":"M-1"}`,
	"POST /bags/{code}/seals":                   `{"opened":true}`,
	"POST /bags/{code}/observations/{id}/close": `{"reason":"looked"}`,
}

// TestSession lets a person in by the cookie that the pages set.
func TestSession(t *testing.T) {
	w := newWorld(t)
	_, err := w.svc.Account.CreatePerson(t.Context(), setup, inventory.Person{Name: "Robin", Role: crew,
		Stations: []string{"N1"}}, "4821", quick{})
	require.NoError(t, err)
	tablet, err := w.svc.Account.AddTerminal(t.Context(), setup, "tablet", "N1")
	require.NoError(t, err)
	secret, err := w.svc.Account.EnrolHere(t.Context(), setup, tablet.ID)
	require.NoError(t, err)
	cookie, err := w.svc.Account.SignIn(t.Context(), "robin", "4821", account.From{Terminal: secret}, quick{})
	require.NoError(t, err)
	session := func() *call { return w.with("", "GET", "/stations").set("Cookie", api.DefaultCookie+"="+cookie) }
	assert.Len(t, decoded[listOf[inventory.Station]](session().want(200)).Data, 1)
	w.with("", "GET", "/stations").set("Cookie", api.DefaultCookie+"=made-up").want(401)
	session().set("Authorization", "Basic Um9iaW46MTIzNA==").want(401)
	session().set("Authorization", "Bearer sk_wrong").want(401)
	require.NoError(t, w.svc.Account.SignOut(t.Context(), cookie))
	session().want(401)
}

// TestSessionFromElsewhere refuses to write for a session when a page of
// another origin has made the browser ask. Reading shows that page nothing.
func TestSessionFromElsewhere(t *testing.T) {
	w := newWorld(t)
	_, err := w.svc.Account.CreatePerson(t.Context(), setup, inventory.Person{Name: "Robin", Role: quartermaster,
		Stations: []string{"N1"}}, "a long password", quick{})
	require.NoError(t, err)
	cookie, err := w.svc.Account.SignIn(t.Context(), "robin", "a long password", account.From{Address: "192.0.2.1"},
		quick{})
	require.NoError(t, err)
	n := 0
	send := func(header ...string) *call {
		n++
		c := w.with("", "POST", "/items").json(fmt.Sprintf(
			`{"code":"I-%d","name":"Gauze","category":"plain dressing","unit":"each","tracked_by":"lot"}`, n))
		for i := 0; i < len(header); i += 2 {
			c.set(header[i], header[i+1])
		}
		return c.set("Cookie", api.DefaultCookie+"="+cookie)
	}
	send("Sec-Fetch-Site", "cross-site").want(403)
	send("Sec-Fetch-Site", "same-site").want(403)
	send("Origin", "https://elsewhere.example.org").want(403)
	send("Sec-Fetch-Site", "same-origin").want(201)
	send("Origin", "https://kit.example.org").want(201)
	send().want(201) // not a browser
	w.as(quartermaster, "GET", "/items/I-1").want(404)
	w.as(quartermaster, "POST", "/items").set("Sec-Fetch-Site", "cross-site").
		json(`{"code":"BY-TOKEN","name":"Gauze","category":"plain dressing","unit":"each","tracked_by":"lot"}`).want(201)
}

// quick stands in for a slow hash of secrets.
type quick struct{}

func (quick) Hash(secret string) (string, error) { return "quick:" + secret, nil }
func (quick) Match(hash, secret string) bool     { return hash == "quick:"+secret }
