package web

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/url"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Who gets in changes on the pages only with the administrator's own password
// typed once more; a wrong one changes nothing, and no answer holds it.
func TestOwnPasswordOnceMore(t *testing.T) {
	w := newWorld(t)
	c := w.as("Ada Ministrator")
	kim, err := w.svc.Account.People(t.Context(), admin)
	require.NoError(t, err)
	path := personPath(kim[0].ID)
	require.Equal(t, "Kim Crew", kim[0].Name)
	wrong := url.Values{"own_password": {"wrong lamps by day"}, "own_password_new": {"wrong lamps by day"}}
	for page, form := range map[string]struct {
		action string
		change url.Values
	}{
		"/people/new": {"/people/new", url.Values{"name": {"New Crew"}, "role": {"crew"}, "stations": {"CEN"},
			"secret": {"7350"}}},
		path:            {path, url.Values{"role": {"quartermaster"}, "secret": {"nine doors by the sea"}}},
		"/tokens":       {"/tokens", url.Values{"name": {"till"}, "role": {"manager"}}},
		"/stations/CEN": {"/stations/CEN/calendar", url.Values{}},
		"/terminals":    {"/terminals", url.Values{"name": {"spare"}, "how": {"here"}}},
		"/account":      {"/account/sessions", url.Values{"ref": {"all"}}},
	} {
		before := everybody(t, w)
		for name, value := range wrong {
			form.change[name] = value
		}
		to, values := formWith(c.get(page), form.action, form.change)
		c.post(to, values)
		require.Equal(t, http.StatusUnprocessableEntity, c.res.Code, page)
		assert.Contains(t, c.text(), "PIN or password", page)
		assert.NotContains(t, c.res.Body.String(), "wrong lamps", page)
		assert.Equal(t, before, everybody(t, w), page)
		assert.Equal(t, "no-store", c.res.Header().Get("Cache-Control"), page)

		old := c.cookie.Value
		values["own_password"], values["own_password_new"] = []string{password}, []string{password}
		c.post(to, values)
		assert.Contains(t, []int{http.StatusOK, http.StatusSeeOther}, c.res.Code, "%s: %s", page, c.text())
		assert.NotEqual(t, before, everybody(t, w), page)
		if c.cookie == nil { // signed out everywhere
			c = w.as("Ada Ministrator")
			continue
		}
		assert.NotEqual(t, old, c.cookie.Value, "another session took its place")
	}
	c.post(path, url.Values{"access": {"disable"}})
	assert.Equal(t, http.StatusSeeOther, c.res.Code, "taking access away asks for nothing")
	c.follow().submit(path, url.Values{"access": {"enable"}})
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	c.submit(path, url.Values{"access": {"enable"}, "own_password": {password}})
	assert.Equal(t, http.StatusSeeOther, c.res.Code, c.text())
}

// formWith is a form of the page as it is sent, with some values changed.
func formWith(c *client, action string, change url.Values) (string, url.Values) {
	to, values := c.form(action)
	for name, v := range change {
		values[name] = v
	}
	return to, values
}

// everybody is who gets in, and how many are signed in.
func everybody(t *testing.T, w *world) []any {
	people, err := w.svc.Account.People(t.Context(), admin)
	require.NoError(t, err)
	terminals, err := w.svc.Account.Terminals(t.Context(), admin)
	require.NoError(t, err)
	tokens, err := w.svc.Account.Tokens(t.Context(), admin)
	require.NoError(t, err)
	sessions, err := w.svc.Account.Sessions(t.Context(), admin, adminName)
	require.NoError(t, err)
	for i := range terminals {
		terminals[i].LastUsed = 0
	}
	return []any{people, terminals, tokens, len(sessions)}
}

// What somebody may not do is logged with who and from where, and without what
// they sent.
func TestRefusalsAreLogged(t *testing.T) {
	w := newWorld(t)
	var log bytes.Buffer
	opt := w.options()
	opt.Logger = slog.New(slog.NewTextHandler(&log, nil))
	w.router = gin.New()
	require.NoError(t, Mount(w.router, w.svc, opt))
	c := w.as("Kim Crew")
	log.Reset()
	c.get("/people?canary=5531")
	assert.Equal(t, http.StatusForbidden, c.res.Code)
	for _, part := range []string{"level=WARN", "msg=refused", "cause=forbidden", "path=/people", `by="Kim Crew"`,
		"from=Tablet", "address="} {
		assert.Contains(t, log.String(), part)
	}
	assert.NotContains(t, log.String(), "canary")
}
