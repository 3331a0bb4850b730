package main

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"io"
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
)

// TestMassAssignment: a form or a body that says more than it may changes
// nothing more.
func TestMassAssignment(t *testing.T) {
	c := compose(t)
	session := c.session(inventory.Manager)
	rec := c.form("/account/secret", session, url.Values{"old": {"seven lamps at dusk"}, "secret": {"eight boats at noon"},
		"again": {"eight boats at noon"},
		"role":  {"administrator"}, "stations": {"N1", "S2"}, "disabled": {"no"}, "id": {"1"}})
	require.Equal(t, http.StatusSeeOther, rec.Code, rec.Body)
	keeper := c.session(inventory.Quartermaster)
	people := func(ctx context.Context) any {
		all, err := c.svc.Account.People(ctx, operator)
		require.NoError(t, err)
		tokens, err := c.svc.Account.Tokens(ctx, operator)
		require.NoError(t, err)
		for i := range all {
			all[i].SecretHash = ""
		}
		for i := range tokens {
			tokens[i].LastUsed = 0
		}
		return []any{all, tokens}
	}
	before := people(t.Context())
	all, err := c.svc.Account.People(t.Context(), operator)
	require.NoError(t, err)
	assert.Equal(t, []any{inventory.Manager, []string{"N1"}}, []any{all[0].Role, all[0].Stations})

	for _, d := range c.doors() { // every form, with all that a person or token has
		if d.method != http.MethodPost || d.api || d.action == inventory.ActOpen {
			continue
		}
		path, _ := c.pathAt("N1", d.path)
		form, err := url.ParseQuery(c.at("N1").Replace(anyForm))
		require.NoError(t, err)
		for name, value := range map[string]string{"role": "administrator", "Role": "administrator", "stations": "S2",
			"person": "1", "id": "1", "actor": "operator", "by": "operator", "scope": "keep_people", "program": "true",
			"key": d.path} {
			form.Set(name, value)
		}
		undo := errors.New("undo")
		require.ErrorIs(t, c.svc.Ledger.Together(t.Context(), func(ctx context.Context) error {
			c.doIn(ctx, d.method, path, form.Encode(), "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site",
				"same-origin", "Cookie", keeper.Name+"="+keeper.Value)
			assert.Equal(t, before, people(ctx), path)
			ms, err := c.svc.Ledger.Movements(ctx, operator, inventory.MovementFilter{Newest: true}, inventory.Page{Limit: 1})
			require.NoError(t, err)
			assert.Contains(t, []string{operator.Name, "person quartermaster"}, ms[0].By, path)
			return undo
		}), undo)
	}

	token := c.tokenOf(inventory.Administrator)
	for _, d := range c.doors() { // every body refuses what it does not name
		if !d.api || d.method == http.MethodGet || apiBodies[d.method+" "+d.path] == "" {
			continue
		}
		for _, more := range []string{`"role":"administrator"`, `"stations":["S2"]`, `"by":"somebody"`,
			`"recorded_at":"2020-01-01T00:00:00Z"`, `"position":1`, `"witnessed_by":"x"`, `"id":1`, `"hash":"x"`} {
			if d.path == api.Base+"/tokens" && (strings.HasPrefix(more, `"role"`) || strings.HasPrefix(more, `"stations"`)) {
				continue
			}
			path, _ := c.pathAt("N1", d.path)
			rest := strings.TrimPrefix(c.at("N1").Replace(apiBodies[d.method+" "+d.path]), "{")
			body := strings.Replace("{"+more+","+rest, ",}", "}", 1)
			rec := c.do(d.method, path, body, "Authorization", "Bearer "+token, "Content-Type", "application/json",
				"Idempotency-Key", "k", "If-Match", "*")
			assert.Equal(t, http.StatusUnprocessableEntity, rec.Code, "%s %s takes %s", d.method, d.path, more)
		}
	}
	rec = c.do(http.MethodPost, api.Base+"/tokens", `{"name":"x","role":"administrator"}`, "Authorization",
		"Bearer "+c.token(inventory.Quartermaster), "Content-Type", "application/json")
	assert.Equal(t, http.StatusForbidden, rec.Code)
}

// TestThingsOfOthersByID: where a path names two things, one's own does not let
// in to the other station's; nor does an export hold anything of it.
func TestThingsOfOthersByID(t *testing.T) {
	c := compose(t)
	v := visitor{name: "keeper", role: inventory.Quartermaster, stations: []string{"N1"},
		token: c.token(inventory.Quartermaster), session: c.session(inventory.Quartermaster).Value}
	own, other, tried := c.things["N1"], c.things["S2"], 0
	before := c.state()
	for _, d := range c.doors() {
		for of := range other {
			if !strings.Contains(d.path, of) || strings.Count(d.path, ":") < 2 || d.action == inventory.ActOpen {
				continue
			}
			mixed := maps.Clone(own)
			mixed[of] = other[of]
			c.things["mixed"] = mixed
			path, _ := c.pathAt("mixed", d.path)
			header := []string{"Authorization", "Bearer " + v.token, "Content-Type", "application/json", "Idempotency-Key",
				"mixed", "If-Match", "*"}
			body := c.at("N1").Replace(apiBodies[d.method+" "+d.path])
			if !d.api {
				header = []string{"Cookie", "__Host-stowkeeper_session=" + v.session, "Content-Type",
					"application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin"}
				body = c.at("N1").Replace(anyForm) + "&key=mixed"
			}
			rec := c.do(d.method, path, body, header...)
			tried++
			assert.Contains(t, []int{http.StatusForbidden, http.StatusNotFound}, rec.Code, "%s %s with the other's %s\n%s",
				d.method, path, of, rec.Body)
			assert.NotContains(t, rec.Body.String(), otherIncident, path)
		}
	}
	assert.Equal(t, before, c.state())
	assert.Greater(t, tried, 8)
	for _, path := range []string{"/exports/stowkeeper.zip", "/exports/stowkeeper.xlsx", api.Base + "/export.xlsx"} {
		own := false
		header := []string{"Cookie", "__Host-stowkeeper_session=" + v.session}
		rec := c.do(http.MethodGet, path, "", header...)
		require.Equal(t, http.StatusOK, rec.Code)
		z, err := zip.NewReader(bytes.NewReader(rec.Body.Bytes()), int64(rec.Body.Len()))
		require.NoError(t, err)
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(t, err)
			data, err := io.ReadAll(r)
			require.NoError(t, err)
			own = own || strings.Contains(string(data), "A-N1")
			for _, secret := range []string{otherNote, otherIncident, "G-S2", "SN-S2", "A-S2", "S2-STORE", otherBag} {
				if f.Name != "stowkeeper/notices.csv" && !strings.HasPrefix(f.Name, "xl/") { // a notice is for all stations
					assert.NotContains(t, string(data), secret, "%s: %s", path, f.Name)
				}
			}
			for _, secret := range []string{otherNote, otherIncident, "G-S2", "A-S2", "S2-STORE", otherBag} {
				assert.NotContains(t, string(data), secret, "%s: %s", path, f.Name)
			}
		}
		assert.True(t, own, path)
	}
}
