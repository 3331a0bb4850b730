package web

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// failing is a router with one open page that fails with an error.
func failing(t *testing.T, w *world, do func(*visit) error) *client {
	t.Helper()
	s, err := newServer(w.svc, w.options())
	require.NoError(t, err)
	r := gin.New()
	require.NoError(t, s.register(r, Route{get, "/fail", inventory.ActOpen, do}))
	require.NoError(t, s.register(r, Route{post, "/fail", inventory.ActOpen, do}))
	return &client{t: t, handler: r, others: map[string]*http.Cookie{}}
}

func TestEveryKindOfErrorHasAPage(t *testing.T) {
	w := newWorld(t)
	want := map[inventory.ErrorKind]int{
		inventory.Invalid: 422, inventory.NotFound: 404, inventory.Conflict: 409, inventory.Stale: 409,
		inventory.Forbidden: 403,
		inventory.SignedOut: 303, inventory.TooMany: 429, inventory.Unavailable: 503,
		inventory.InDoubt: 503, inventory.StorageFull: 507, inventory.Internal: 500,
	}
	for _, kind := range inventory.ErrorKinds {
		assert.Contains(t, outcomes, kind)
		c := failing(t, w, func(*visit) error { return inventory.Refuse(kind, "these words {1}", "<i>") }).get("/fail")
		assert.Equal(t, want[kind], c.res.Code, "%s", kind)
		switch kind {
		case inventory.Internal:
			assert.NotContains(t, c.text(), "these words")
			assert.Contains(t, c.text(), "Something went wrong")
		case inventory.SignedOut:
			assert.Equal(t, "/sign-in?next=%2Ffail", c.location())
		default:
			assert.Contains(t, c.text(), "these words <i>")
			assert.Contains(t, c.text(), outcomes[kind].title.String())
			assert.NotContains(t, c.res.Body.String(), "words <i>")
		}
	}
	assert.Len(t, outcomes, len(inventory.ErrorKinds))
}

func TestFieldsOfAnErrorAreListed(t *testing.T) {
	c := failing(t, newWorld(t), func(*visit) error { return inventory.InvalidField("x", "give less") }).get("/fail")
	assert.Contains(t, c.text(), "below give less")
}

func TestOurMistakes(t *testing.T) {
	w := newWorld(t)
	for name, do := range map[string]func(*visit) error{
		"error":       func(*visit) error { return errors.New("secret cause") },
		"panic":       func(*visit) error { panic("secret cause") },
		"no template": func(v *visit) error { return v.s.render(v, 200, &brokenPage{}) },
		"failing page": func(v *visit) error {
			v.s.pages["failing"] = v.s.pages["board"]
			return v.s.render(v, 200, &failingPage{})
		},
		"wrapped error": func(*visit) error { return errors.Join(errors.New("secret cause"), nil) },
	} {
		c := failing(t, w, do).get("/fail")
		assert.Equal(t, http.StatusInternalServerError, c.res.Code, name)
		assert.Contains(t, c.text(), "Something went wrong", name)
		assert.NotContains(t, c.res.Body.String(), "secret", name)
		assert.Equal(t, 1, strings.Count(c.res.Body.String(), "<html"), "%s: nothing of the failed page was sent", name)
	}
}

// brokenPage has no template; failingPage is given to a template whose fields
// it lacks.
type (
	brokenPage  struct{ Base }
	failingPage struct{ Base }
)

// Where the error page cannot be rendered either, the page made at start is
// sent.
func TestErrorWhileShowingAnError(t *testing.T) {
	w := newWorld(t)
	s, err := newServer(w.svc, w.options())
	require.NoError(t, err)
	delete(s.pages, "error")
	r := gin.New()
	require.NoError(t, s.register(r, Route{get, "/fail", inventory.ActOpen,
		func(*visit) error { return inventory.Refuse(inventory.Conflict, "x") }}))
	c := (&client{t: t, handler: r}).get("/fail")
	assert.Equal(t, http.StatusInternalServerError, c.res.Code)
	assert.Contains(t, c.text(), "Something went wrong")
}

// An error after the page went out can only be logged.
func TestErrorAfterThePage(t *testing.T) {
	c := failing(t, newWorld(t), func(v *visit) error {
		v.String(http.StatusOK, "page")
		return inventory.Refuse(inventory.Conflict, "too late")
	}).get("/fail")
	assert.Equal(t, http.StatusOK, c.res.Code)
	assert.Equal(t, "page", c.res.Body.String())
}

func TestUnknownPaths(t *testing.T) {
	w := newWorld(t)
	r := gin.New()
	r.HandleMethodNotAllowed = true
	opt := w.options()
	asked := 0
	opt.NoRoute = func(c *gin.Context) {
		asked++
		if strings.HasPrefix(c.Request.URL.Path, "/api/") {
			c.AbortWithStatus(http.StatusTeapot)
		}
	}
	opt.NoMethod = opt.NoRoute
	require.NoError(t, Mount(r, w.svc, opt))
	c := &client{t: t, handler: r}
	assert.Equal(t, http.StatusNotFound, c.get("/nothing/here").res.Code)
	assert.Contains(t, c.text(), "Not found")
	assert.Equal(t, http.StatusNotFound, c.post("/board", url.Values{}).res.Code)
	assert.Equal(t, http.StatusTeapot, c.get("/api/v1/nothing").res.Code)
	assert.Equal(t, 3, asked)
}

func TestMountRefuses(t *testing.T) {
	w := newWorld(t)
	for name, change := range map[string]func(*Options){
		"Secrets": func(o *Options) { o.Secrets = nil },
		"BaseURL": func(o *Options) { o.BaseURL = "stock.example.org" },
	} {
		opt := w.options()
		change(&opt)
		err := Mount(gin.New(), w.svc, opt)
		require.Error(t, err)
		assert.Contains(t, err.Error(), name)
	}
}

// A form that is too big is refused, and so is one that cannot be read.
func TestFormsThatCannotBeRead(t *testing.T) {
	w := newWorld(t)
	c := w.as("Kim Crew").post("/b/CEN-01/use", url.Values{"note": {strings.Repeat("x", maxForm)}})
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	assert.Contains(t, c.text(), "too much text: shorten it")

	r := httptest.NewRequest(http.MethodPost, "/b/CEN-01/use", strings.NewReader("a=%zz"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	c.do(r)
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	assert.Contains(t, c.text(), "reload the page")
}
